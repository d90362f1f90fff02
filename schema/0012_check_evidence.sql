-- What shows that a hazard was looked for, or is off: photos and notes.

CREATE TABLE check_evidence (
    board  TEXT    NOT NULL REFERENCES board (code),
    n      INTEGER NOT NULL CHECK (n >= 1),
    hazard TEXT    NOT NULL,
    photo  INTEGER,  -- number of the board's photo; null for a note alone
    note   TEXT    NOT NULL,
    by     TEXT    NOT NULL,
    at     TEXT    NOT NULL,
    PRIMARY KEY (board, n),
    FOREIGN KEY (board, photo) REFERENCES photo (code, n),
    CHECK (photo IS NOT NULL OR note <> '')
) STRICT;
