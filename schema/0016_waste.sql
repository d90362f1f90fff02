-- Waste containers, what goes into them, and consignments that tell what left.

CREATE TABLE waste_container (
    code       TEXT PRIMARY KEY,
    kind       TEXT    NOT NULL,
    words      TEXT    NOT NULL,  -- what stands on it
    opened_on  TEXT    NOT NULL,
    limit_days INTEGER CHECK (limit_days >= 1),
    rule       TEXT    NOT NULL,  -- where words and limit come from, as it was known then
    place      TEXT    NOT NULL,
    notes      TEXT    NOT NULL,
    closed_on  TEXT    NOT NULL
) STRICT;

CREATE TABLE waste_item (
    container TEXT    NOT NULL REFERENCES waste_container (code),
    n         INTEGER NOT NULL CHECK (n >= 1),
    what      TEXT    NOT NULL,
    source    TEXT    NOT NULL,  -- code of a board or drop-off; empty for swept up together
    hazard    TEXT    NOT NULL,
    matter    TEXT    NOT NULL CHECK (matter IN ('part', 'board', 'dust')),
    weight_mg INTEGER CHECK (weight_mg > 0),
    weighed   INTEGER NOT NULL CHECK (weighed IN (0, 1)),
    whole     INTEGER NOT NULL CHECK (whole IN (0, 1)),
    put_on    TEXT    NOT NULL,
    clock     INTEGER NOT NULL,
    PRIMARY KEY (container, n)
) STRICT;

CREATE INDEX waste_item_source ON waste_item (source);

-- A consignment whose receipt and items are told; older ones have neither.
CREATE TABLE consignment_detail (
    consignment  TEXT PRIMARY KEY REFERENCES consignment (code),
    permit       TEXT    NOT NULL,
    confirmed_on TEXT    NOT NULL,
    confirmed_mg INTEGER CHECK (confirmed_mg > 0),
    confirmation TEXT    NOT NULL
) STRICT;

CREATE TABLE consignment_item (
    consignment TEXT    NOT NULL REFERENCES consignment (code),
    n           INTEGER NOT NULL CHECK (n >= 1),
    what        TEXT    NOT NULL CHECK (what IN ('container', 'board', 'loose')),
    code        TEXT    NOT NULL,
    words       TEXT    NOT NULL,
    weight_mg   INTEGER NOT NULL CHECK (weight_mg > 0),
    weighed     INTEGER NOT NULL CHECK (weighed IN (0, 1)),
    drop_off    TEXT REFERENCES drop_off (code),
    PRIMARY KEY (consignment, n)
) STRICT;

-- A container and a board leave once.
CREATE UNIQUE INDEX consignment_item_code ON consignment_item (code) WHERE code <> '';

-- What a board weighed on a later day, with what had been taken off it until then.
CREATE TABLE board_weighing (
    event_id   TEXT PRIMARY KEY,
    board      TEXT    NOT NULL REFERENCES board (code),
    weight_mg  INTEGER NOT NULL CHECK (weight_mg > 0),
    weighed_on TEXT    NOT NULL,
    clock      INTEGER NOT NULL
) STRICT;

CREATE INDEX board_weighing_board ON board_weighing (board);

-- Copper of a board: layers, and thousandths of an ounce on a square foot of each.
CREATE TABLE board_copper (
    board      TEXT PRIMARY KEY REFERENCES board (code),
    layers     INTEGER NOT NULL CHECK (layers BETWEEN 0 AND 64),
    copper_moz INTEGER NOT NULL CHECK (copper_moz BETWEEN 0 AND 20000)
) STRICT;
