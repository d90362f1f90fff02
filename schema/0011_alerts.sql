-- New knowledge about boards that are on the shelf already, and about those to come.

CREATE TABLE alert (
    id        TEXT PRIMARY KEY,  -- id of the event that raised it
    hazard    TEXT NOT NULL,
    type      TEXT NOT NULL,  -- empty: any
    maker     TEXT NOT NULL,
    model     TEXT NOT NULL,
    drop_off  TEXT NOT NULL,
    made_from TEXT NOT NULL,
    made_to   TEXT NOT NULL,
    reason    TEXT NOT NULL CHECK (reason <> ''),
    source    TEXT NOT NULL CHECK (source <> ''),
    by        TEXT NOT NULL,
    at        TEXT NOT NULL,
    lifted    TEXT NOT NULL  -- why it no longer counts; empty while it does
) STRICT;
