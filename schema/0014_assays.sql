-- Tests of what a part of a board, piece or batch contains or releases.

CREATE TABLE assay (
    code            TEXT    NOT NULL,
    n               INTEGER NOT NULL CHECK (n >= 1),
    part            TEXT    NOT NULL,
    analyte         TEXT    NOT NULL,
    measure         TEXT    NOT NULL CHECK (measure IN ('content', 'release', 'soluble', 'wipe')),
    method          TEXT    NOT NULL,
    figure          TEXT    NOT NULL,
    unit            TEXT    NOT NULL,
    is_below        INTEGER NOT NULL CHECK (is_below IN (0, 1)),
    detection_limit TEXT    NOT NULL,
    uncertainty     TEXT    NOT NULL,
    instrument      TEXT    NOT NULL,
    lab             TEXT    NOT NULL,
    tested_on       TEXT    NOT NULL,
    document        TEXT    NOT NULL,
    note            TEXT    NOT NULL,
    by              TEXT    NOT NULL,
    at              TEXT    NOT NULL,
    voided          TEXT    NOT NULL,
    PRIMARY KEY (code, n)
) STRICT, WITHOUT ROWID;
