-- Batches of what goes into pieces besides board: sealants, resins, findings, and where each went.

CREATE TABLE batch (
    code        TEXT PRIMARY KEY,
    material    TEXT    NOT NULL CHECK (material <> ''),
    name        TEXT    NOT NULL CHECK (name <> ''),
    maker       TEXT    NOT NULL,
    lot         TEXT    NOT NULL,
    received_on TEXT    NOT NULL,
    pack_milli  INTEGER CHECK (pack_milli > 0),  -- thousandths of the unit that the pack holds
    unit        TEXT    NOT NULL,
    cost_minor  INTEGER CHECK (cost_minor >= 0),
    currency    TEXT    NOT NULL,
    notes       TEXT    NOT NULL,
    recalled    INTEGER NOT NULL CHECK (recalled >= 0),
    recorded_by TEXT    NOT NULL,
    recorded_at TEXT    NOT NULL
) STRICT;

-- The supplier's papers: a declaration, a data sheet, an invoice.
CREATE TABLE batch_paper (
    batch  TEXT    NOT NULL REFERENCES batch (code),
    n      INTEGER NOT NULL CHECK (n >= 1),
    sha256 TEXT    NOT NULL REFERENCES file (sha256),
    title  TEXT    NOT NULL,
    at     TEXT    NOT NULL,
    PRIMARY KEY (batch, n)
) STRICT, WITHOUT ROWID;

-- One use may concern several pieces; a use that was noted by mistake stays, and says why.
CREATE TABLE material_use (
    batch      TEXT    NOT NULL REFERENCES batch (code),
    n          INTEGER NOT NULL CHECK (n >= 1),
    code       TEXT    NOT NULL,
    stage      TEXT    NOT NULL,
    each_milli INTEGER CHECK (each_milli > 0),
    note       TEXT    NOT NULL,
    by         TEXT    NOT NULL,
    at         TEXT    NOT NULL,
    voided     TEXT    NOT NULL,
    PRIMARY KEY (batch, n, code)
) STRICT, WITHOUT ROWID;

CREATE INDEX material_use_code ON material_use (code);
