-- What customers ask for, what it is quoted at, and what is set aside for them.

CREATE TABLE customer_order (
    code         TEXT PRIMARY KEY,
    name_seal    TEXT,
    contact_seal TEXT,
    taken_on     TEXT NOT NULL,
    due_on       TEXT NOT NULL,  -- empty where no day was wished
    donor        TEXT NOT NULL,  -- only of this donor's boards; empty for any
    drop_off     TEXT NOT NULL,  -- only of this drop-off's boards; empty for any
    notes        TEXT NOT NULL,
    state        TEXT NOT NULL CHECK (state IN
                 ('asked', 'quoted', 'accepted', 'declined', 'cancelled')),
    reason       TEXT NOT NULL,
    taken_by     TEXT NOT NULL
) STRICT;

CREATE TABLE order_line (
    customer_order TEXT    NOT NULL REFERENCES customer_order (code),
    n              INTEGER NOT NULL CHECK (n >= 1),
    name           TEXT    NOT NULL,
    shape          TEXT    NOT NULL,
    shape_sha256   TEXT    NOT NULL,
    region         TEXT    NOT NULL,
    quantity       INTEGER NOT NULL CHECK (quantity >= 1),
    PRIMARY KEY (customer_order, n)
) STRICT;

CREATE TABLE quote (
    customer_order TEXT    NOT NULL REFERENCES customer_order (code),
    n              INTEGER NOT NULL CHECK (n >= 1),
    total_minor    INTEGER NOT NULL CHECK (total_minor >= 0),
    currency       TEXT    NOT NULL,
    valid_until    TEXT    NOT NULL,
    made_on        TEXT    NOT NULL,
    notes          TEXT    NOT NULL,
    PRIMARY KEY (customer_order, n)
) STRICT;

CREATE TABLE quote_line (
    customer_order TEXT    NOT NULL,
    quote          INTEGER NOT NULL,
    n              INTEGER NOT NULL CHECK (n >= 1),
    name           TEXT    NOT NULL,
    quantity       INTEGER NOT NULL CHECK (quantity >= 1),
    each_minor     INTEGER NOT NULL CHECK (each_minor >= 0),
    PRIMARY KEY (customer_order, quote, n),
    FOREIGN KEY (customer_order, quote) REFERENCES quote (customer_order, n)
) STRICT;

CREATE TABLE order_plan (
    customer_order TEXT NOT NULL REFERENCES customer_order (code),
    plan           TEXT NOT NULL REFERENCES plan (code),
    PRIMARY KEY (customer_order, plan)
) STRICT;

CREATE INDEX order_plan_plan ON order_plan (plan);

-- Pieces from the shelf that wait for an order; those cut from its plans are its own anyway.
CREATE TABLE set_aside (
    piece          TEXT PRIMARY KEY REFERENCES piece (code),
    customer_order TEXT    NOT NULL REFERENCES customer_order (code),
    line           INTEGER NOT NULL
) STRICT;

CREATE INDEX set_aside_order ON set_aside (customer_order);

CREATE TABLE forgotten_customer (
    customer_order TEXT PRIMARY KEY,
    at             TEXT NOT NULL
) STRICT;

-- From a place that was held to what was cut there.
CREATE INDEX cut_reservation ON cut (reservation);
