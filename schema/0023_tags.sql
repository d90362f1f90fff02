-- The last price tag printed for a piece, so that a tag which no longer says the price is found.

CREATE TABLE printed_tag (
    piece       TEXT PRIMARY KEY NOT NULL REFERENCES piece (code),
    design      TEXT NOT NULL CHECK (design <> ''),
    text_sha256 TEXT NOT NULL CHECK (length(text_sha256) = 64),
    price_minor INTEGER CHECK (price_minor IS NULL OR price_minor >= 0),
    currency    TEXT NOT NULL,
    printed_at  TEXT NOT NULL
) STRICT, WITHOUT ROWID;
