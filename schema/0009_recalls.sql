-- Recalls from any cause, the progress of each item, and the facts that causes are found by.

-- The cause as canonical JSON; empty only while a row is being made.
ALTER TABLE recall ADD COLUMN cause TEXT NOT NULL DEFAULT '';
ALTER TABLE recall ADD COLUMN hold INTEGER NOT NULL DEFAULT 1 CHECK (hold IN (0, 1));
ALTER TABLE recall ADD COLUMN to_do TEXT NOT NULL DEFAULT '';

-- When it joined after the opening; how it was settled; whether it counts as recalled by it.
ALTER TABLE recall_item ADD COLUMN joined_at TEXT NOT NULL DEFAULT '';
ALTER TABLE recall_item ADD COLUMN holds INTEGER NOT NULL DEFAULT 1 CHECK (holds IN (0, 1));
ALTER TABLE recall_item ADD COLUMN outcome TEXT NOT NULL DEFAULT '';
ALTER TABLE recall_item ADD COLUMN note TEXT NOT NULL DEFAULT '';
ALTER TABLE recall_item ADD COLUMN settled_by TEXT NOT NULL DEFAULT '';
ALTER TABLE recall_item ADD COLUMN settled_at TEXT NOT NULL DEFAULT '';

CREATE INDEX recall_item_code ON recall_item (code);

-- Who did which stage of a piece, and when.
CREATE TABLE staging (
    by    TEXT NOT NULL,
    at    TEXT NOT NULL,
    piece TEXT NOT NULL,
    stage TEXT NOT NULL,
    PRIMARY KEY (by, at, piece, stage)
) STRICT, WITHOUT ROWID;

-- Pieces that were sealed or assembled without saying with what.
CREATE TABLE unsaid (
    stage TEXT NOT NULL,
    piece TEXT NOT NULL,
    at    TEXT NOT NULL,
    PRIMARY KEY (stage, piece)
) STRICT, WITHOUT ROWID;

-- That a hazard was once found on a board or accepted, or a piece cut while it was open.
CREATE TABLE hazard_mark (
    hazard TEXT NOT NULL,
    mark   TEXT NOT NULL CHECK (mark IN ('found', 'accepted', 'overridden')),
    code   TEXT NOT NULL,
    PRIMARY KEY (hazard, mark, code)
) STRICT, WITHOUT ROWID;

-- By what a board's outline was ever measured.
CREATE TABLE measuring (
    board TEXT NOT NULL,
    at    TEXT NOT NULL,
    how   TEXT NOT NULL,
    PRIMARY KEY (board, at, how)
) STRICT, WITHOUT ROWID;
