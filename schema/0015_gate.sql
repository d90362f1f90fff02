-- What a piece is to be and for whom, and which open questions of its sale somebody answers for.

CREATE TABLE piece_product (
    piece     TEXT PRIMARY KEY REFERENCES piece (code),
    product   TEXT NOT NULL,
    solder    TEXT NOT NULL CHECK (solder IN ('present', 'absent', 'not checked', 'cannot tell')),
    component TEXT NOT NULL CHECK (component IN ('present', 'absent', 'not checked', 'cannot tell')),
    metal     TEXT NOT NULL CHECK (metal IN ('present', 'absent', 'not checked', 'cannot tell')),
    finding   TEXT NOT NULL CHECK (finding IN ('present', 'absent', 'not checked', 'cannot tell')),
    coating   TEXT NOT NULL CHECK (coating IN ('present', 'absent', 'not checked', 'cannot tell')),
    by        TEXT NOT NULL,
    at        TEXT NOT NULL
) STRICT;

CREATE TABLE piece_audience (
    piece    TEXT PRIMARY KEY REFERENCES piece (code),
    audience TEXT NOT NULL CHECK (audience IN ('adult', 'child')),
    reason   TEXT NOT NULL,
    by       TEXT NOT NULL,
    at       TEXT NOT NULL
) STRICT;

-- Never taken out again: whoever looks at the piece sees them.
CREATE TABLE gate_accepted (
    piece  TEXT    NOT NULL REFERENCES piece (code),
    n      INTEGER NOT NULL CHECK (n >= 1),
    point  TEXT    NOT NULL,
    reason TEXT    NOT NULL,
    by     TEXT    NOT NULL,
    at     TEXT    NOT NULL,
    PRIMARY KEY (piece, n)
) STRICT, WITHOUT ROWID;
