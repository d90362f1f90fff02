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
