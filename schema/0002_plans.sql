-- Plans of orders: until when places are held.

CREATE TABLE plan (
    code        TEXT PRIMARY KEY,
    for_whom    TEXT    NOT NULL,
    made_at     TEXT    NOT NULL,
    holds_until TEXT    NOT NULL,  -- the last day on which its places are held
    tool        TEXT    NOT NULL,
    kerf_um     INTEGER NOT NULL CHECK (kerf_um >= 0),
    state       TEXT    NOT NULL CHECK (state IN ('held', 'released')),
    reason      TEXT    NOT NULL
) STRICT;

CREATE TABLE plan_line (
    plan         TEXT    NOT NULL REFERENCES plan (code),
    n            INTEGER NOT NULL CHECK (n >= 1),
    name         TEXT    NOT NULL,
    shape        TEXT    NOT NULL,
    shape_sha256 TEXT    NOT NULL,
    region       TEXT    NOT NULL,
    quantity     INTEGER NOT NULL CHECK (quantity >= 1),
    unmet        INTEGER NOT NULL CHECK (unmet >= 0),
    reason       TEXT    NOT NULL,
    PRIMARY KEY (plan, n)
) STRICT;

-- Straight cuts from edge to edge, in the order in which the shears make them.
CREATE TABLE plan_shear (
    plan    TEXT    NOT NULL REFERENCES plan (code),
    n       INTEGER NOT NULL CHECK (n >= 1),
    board   TEXT    NOT NULL REFERENCES board (code),
    from_x_um INTEGER NOT NULL,
    from_y_um INTEGER NOT NULL,
    to_x_um   INTEGER NOT NULL,
    to_y_um   INTEGER NOT NULL,
    PRIMARY KEY (plan, n)
) STRICT;

-- The plan and its line that a place is held for; empty and 0 for a place of its own.
ALTER TABLE reservation ADD COLUMN plan TEXT NOT NULL DEFAULT '';
ALTER TABLE reservation ADD COLUMN line INTEGER NOT NULL DEFAULT 0;
CREATE INDEX reservation_plan ON reservation (plan);

-- A shape that deserves the finest areas.
ALTER TABLE shape ADD COLUMN finest INTEGER NOT NULL DEFAULT 0 CHECK (finest IN (0, 1));
