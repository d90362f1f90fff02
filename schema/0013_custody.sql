-- Custody of data-bearing parts: what was looked for, each medium, its hand-overs and how it ended.

CREATE TABLE data_search (
    drop_off TEXT    NOT NULL REFERENCES drop_off (code),
    n        INTEGER NOT NULL CHECK (n >= 1),
    found    TEXT    NOT NULL,
    scope    TEXT    NOT NULL,
    how      TEXT    NOT NULL,
    photo    TEXT    NOT NULL,
    by       TEXT    NOT NULL,
    at       TEXT    NOT NULL,
    PRIMARY KEY (drop_off, n)
) STRICT;

CREATE TABLE medium (
    drop_off        TEXT    NOT NULL,
    n               INTEGER NOT NULL,
    maker           TEXT    NOT NULL,
    model           TEXT    NOT NULL,
    serial_seal     TEXT,
    media_type      TEXT    NOT NULL CHECK (media_type IN
                    ('magnetic', 'flash', 'hybrid', 'optical', 'other')),
    source_seal     TEXT,
    confidentiality TEXT    NOT NULL,
    PRIMARY KEY (drop_off, n),
    FOREIGN KEY (drop_off, n) REFERENCES data_part (drop_off, n)
) STRICT;

CREATE TABLE hand_over (
    drop_off TEXT    NOT NULL,
    n        INTEGER NOT NULL,
    step     INTEGER NOT NULL CHECK (step >= 1),
    on_day   TEXT    NOT NULL,
    role     TEXT    NOT NULL CHECK (role IN
             ('workshop', 'carrier', 'sanitiser', 'recycler', 'donor', 'other')),
    to_seal  TEXT,
    place    TEXT    NOT NULL,
    document TEXT    NOT NULL,
    note     TEXT    NOT NULL,
    photo    TEXT    NOT NULL,
    by       TEXT    NOT NULL,
    at       TEXT    NOT NULL,
    PRIMARY KEY (drop_off, n, step),
    FOREIGN KEY (drop_off, n) REFERENCES data_part (drop_off, n)
) STRICT;

CREATE TABLE sanitising (
    drop_off       TEXT    NOT NULL,
    n              INTEGER NOT NULL,
    attempt        INTEGER NOT NULL CHECK (attempt >= 1),
    method         TEXT    NOT NULL CHECK (method IN ('clear', 'purge', 'destroy')),
    technique      TEXT    NOT NULL,
    standard       TEXT    NOT NULL,
    tool           TEXT    NOT NULL,
    die            TEXT    NOT NULL CHECK (die IN
                   ('destroyed', 'intact', 'not checked', 'cannot tell', 'has none')),
    done_by        TEXT    NOT NULL,
    done_on        TEXT    NOT NULL,
    place          TEXT    NOT NULL,
    verification   TEXT    NOT NULL CHECK (verification IN
                   ('full', 'sampled', 'status only', 'looked at')),
    verified_by    TEXT    NOT NULL,
    verified_title TEXT    NOT NULL,
    verified_on    TEXT    NOT NULL,
    verified_place TEXT    NOT NULL,
    contact_seal   TEXT,
    validation     TEXT    NOT NULL CHECK (validation IN ('accept', 'repeat', 'escalate')),
    destination    TEXT    NOT NULL,
    note           TEXT    NOT NULL,
    photo          TEXT    NOT NULL,
    by             TEXT    NOT NULL,
    at             TEXT    NOT NULL,
    PRIMARY KEY (drop_off, n, attempt),
    FOREIGN KEY (drop_off, n) REFERENCES data_part (drop_off, n)
) STRICT;

CREATE TABLE drop_off_closed (
    drop_off TEXT PRIMARY KEY REFERENCES drop_off (code),
    note     TEXT NOT NULL,
    by       TEXT NOT NULL,
    at       TEXT NOT NULL
) STRICT;
