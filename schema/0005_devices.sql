-- The workshop's devices: each has a letter and a chain of its own.

CREATE TABLE device (
    letter    TEXT PRIMARY KEY CHECK (length(letter) = 1),
    name      TEXT NOT NULL,
    joined_at TEXT NOT NULL
) STRICT;

-- Which of them this database belongs to. Neither journal nor projection: it is no other device's.
CREATE TABLE this_device (
    only_one INTEGER PRIMARY KEY CHECK (only_one = 1),
    letter   TEXT NOT NULL CHECK (length(letter) = 1)
) STRICT;

-- Events that cannot stand beside what another device did at the same time.
CREATE TABLE clash (
    event_id TEXT PRIMARY KEY,
    reason   TEXT NOT NULL
) STRICT;

-- Clashes that somebody has settled, and how.
CREATE TABLE clash_settled (
    clash TEXT PRIMARY KEY,
    how   TEXT NOT NULL,
    by    TEXT NOT NULL,
    at    TEXT NOT NULL
) STRICT;

-- How far each other device is known to have read each chain.
CREATE TABLE told (
    to_letter TEXT    NOT NULL,
    letter    TEXT    NOT NULL,
    n         INTEGER NOT NULL CHECK (n >= 0),
    PRIMARY KEY (to_letter, letter)
) STRICT;
