-- Stock-takes and the inbox of photos.

CREATE TABLE stock_take (
    code      TEXT PRIMARY KEY,
    place     TEXT NOT NULL,
    things    TEXT NOT NULL CHECK (things IN ('all', 'boards', 'pieces')),
    state     TEXT NOT NULL CHECK (state IN ('open', 'closed')),
    begun_at  TEXT NOT NULL,
    begun_by  TEXT NOT NULL,
    closed_at TEXT NOT NULL
) STRICT;

-- What was seen; its code need not exist in this workshop.
CREATE TABLE stock_seen (
    stock_take TEXT NOT NULL REFERENCES stock_take (code),
    code       TEXT NOT NULL,
    place      TEXT NOT NULL,
    source     TEXT NOT NULL,
    PRIMARY KEY (stock_take, code)
) STRICT, WITHOUT ROWID;

CREATE TABLE lost_thing (
    code       TEXT PRIMARY KEY,
    stock_take TEXT NOT NULL REFERENCES stock_take (code),
    reason     TEXT NOT NULL,
    at         TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Photos that are safely kept, and wait for somebody to say what they show.
CREATE TABLE inbox (
    sha256 TEXT PRIMARY KEY REFERENCES file (sha256),
    name   TEXT NOT NULL,
    reason TEXT NOT NULL,
    codes  TEXT NOT NULL,
    at     TEXT NOT NULL
) STRICT;
