-- Bits, filters and masks, and how far their life has gone.

CREATE TABLE tool (
    name          TEXT PRIMARY KEY,
    kind          TEXT    NOT NULL CHECK (kind IN ('bit', 'filter', 'mask', 'blade')),
    diameter_um   INTEGER CHECK (diameter_um > 0),
    limit_um      INTEGER CHECK (limit_um > 0),   -- way that it may cut
    limit_minutes INTEGER CHECK (limit_minutes > 0),
    limit_from    TEXT    NOT NULL,
    notes         TEXT    NOT NULL,
    fresh_on      TEXT    NOT NULL,  -- day since which its life counts
    fresh_clock   INTEGER NOT NULL,
    retired       TEXT    NOT NULL
) STRICT;

CREATE TABLE tool_use (
    cut       TEXT PRIMARY KEY REFERENCES cut (code),
    tool      TEXT    NOT NULL REFERENCES tool (name),
    length_um INTEGER NOT NULL CHECK (length_um > 0),
    clock     INTEGER NOT NULL
) STRICT;

CREATE INDEX tool_use_tool ON tool_use (tool);

CREATE TABLE tool_run (
    event_id TEXT NOT NULL,
    tool     TEXT    NOT NULL REFERENCES tool (name),
    minutes  INTEGER NOT NULL CHECK (minutes > 0),
    ran_on   TEXT    NOT NULL,
    clock    INTEGER NOT NULL,
    PRIMARY KEY (event_id, tool)
) STRICT;
