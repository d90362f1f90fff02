-- The ledger of sales: one slip for each sale or refund, one line for each piece on it.

CREATE TABLE slip (
    number         TEXT PRIMARY KEY,  -- letter of the device and number of the event on it
    kind           TEXT    NOT NULL CHECK (kind IN ('sale', 'refund')),
    day            TEXT    NOT NULL,
    at             TEXT    NOT NULL,
    paid_by        TEXT    NOT NULL CHECK (paid_by IN ('', 'cash', 'card', 'transfer', 'other')),
    currency       TEXT    NOT NULL,
    venue          TEXT    NOT NULL,
    outing         TEXT    NOT NULL,  -- may be one that another device has taken back
    customer_order TEXT    NOT NULL,
    tax_ppm        INTEGER,           -- null where the workshop notes none
    tax_note       TEXT    NOT NULL,
    notes          TEXT    NOT NULL,
    operation      TEXT    NOT NULL
) STRICT;

CREATE INDEX slip_day ON slip (day);
CREATE INDEX slip_outing ON slip (outing) WHERE outing <> '';
CREATE INDEX slip_order ON slip (customer_order) WHERE customer_order <> '';

CREATE TABLE slip_line (
    slip           TEXT    NOT NULL REFERENCES slip (number),
    n              INTEGER NOT NULL CHECK (n >= 1),
    piece          TEXT    NOT NULL,  -- empty for a piece whose label was lost
    sale_n         INTEGER NOT NULL,
    words          TEXT    NOT NULL,
    list_minor     INTEGER NOT NULL CHECK (list_minor >= 0),
    discount_minor INTEGER NOT NULL CHECK (discount_minor >= 0),
    paid_minor     INTEGER NOT NULL CHECK (paid_minor >= 0),
    tax_minor      INTEGER NOT NULL CHECK (tax_minor >= 0),
    fee_minor      INTEGER NOT NULL CHECK (fee_minor >= 0),
    is_gift        INTEGER NOT NULL CHECK (is_gift IN (0, 1)),
    PRIMARY KEY (slip, n)
) STRICT, WITHOUT ROWID;

CREATE INDEX slip_line_piece ON slip_line (piece, sale_n) WHERE piece <> '';
