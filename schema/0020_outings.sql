-- Fairs and market days: what was packed, which cash went along, what came home.

CREATE TABLE outing (
    code            TEXT PRIMARY KEY,
    name            TEXT    NOT NULL,
    place           TEXT    NOT NULL,
    begins_on       TEXT    NOT NULL,
    ends_on         TEXT    NOT NULL,
    stall_fee_minor INTEGER NOT NULL CHECK (stall_fee_minor >= 0),
    currency        TEXT    NOT NULL,
    notes           TEXT    NOT NULL,
    state           TEXT    NOT NULL CHECK (state IN ('planned', 'open', 'closed')),
    float_minor     INTEGER NOT NULL CHECK (float_minor >= 0),
    opened_device   TEXT    NOT NULL,
    opened_at       TEXT    NOT NULL,
    closed_at       TEXT    NOT NULL,
    expected_minor  INTEGER,
    counted_minor   INTEGER,
    reason          TEXT    NOT NULL,
    stock_take      TEXT    NOT NULL  -- the count at its end; empty where nothing was missing
) STRICT;

-- Packed things keep their key for good, so that a printed packing list stays true.
CREATE TABLE outing_piece (
    outing TEXT NOT NULL REFERENCES outing (code),
    piece  TEXT NOT NULL REFERENCES piece (code),
    key    TEXT NOT NULL,
    state  TEXT NOT NULL CHECK (state IN ('packed', 'unpacked', 'home', 'missing')),
    PRIMARY KEY (outing, piece)
) STRICT;

CREATE INDEX outing_piece_key ON outing_piece (outing, key);
CREATE INDEX outing_piece_piece ON outing_piece (piece);

-- Cash that went in or out of the box without a sale: a stall fee paid, change fetched.
CREATE TABLE outing_cash (
    id           TEXT PRIMARY KEY,
    outing       TEXT    NOT NULL REFERENCES outing (code),
    amount_minor INTEGER NOT NULL,
    currency     TEXT    NOT NULL,
    reason       TEXT    NOT NULL,
    at           TEXT    NOT NULL
) STRICT;
