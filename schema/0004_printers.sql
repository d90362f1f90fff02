-- Places with labels, label stock, and printers with what the test page measured.

CREATE TABLE place (
    code          TEXT PRIMARY KEY,
    name          TEXT    NOT NULL CHECK (name <> ''),
    label_printed INTEGER NOT NULL CHECK (label_printed IN (0, 1)),
    named_at      TEXT    NOT NULL
) STRICT;

CREATE INDEX place_name ON place (name COLLATE NOCASE);

CREATE TABLE label_stock (
    name            TEXT PRIMARY KEY CHECK (name <> ''),
    page_width_um   INTEGER NOT NULL CHECK (page_width_um > 0),
    page_height_um  INTEGER NOT NULL CHECK (page_height_um > 0),
    columns         INTEGER NOT NULL CHECK (columns >= 1),
    rows            INTEGER NOT NULL CHECK (rows >= 1),
    label_width_um  INTEGER NOT NULL CHECK (label_width_um > 0),
    label_height_um INTEGER NOT NULL CHECK (label_height_um > 0),
    margin_left_um  INTEGER NOT NULL CHECK (margin_left_um >= 0),
    margin_top_um   INTEGER NOT NULL CHECK (margin_top_um >= 0),
    pitch_x_um      INTEGER NOT NULL CHECK (pitch_x_um > 0),
    pitch_y_um      INTEGER NOT NULL CHECK (pitch_y_um > 0),
    dpi             INTEGER NOT NULL CHECK (dpi > 0),
    fold            TEXT    NOT NULL CHECK (fold IN ('', 'side', 'top')),
    tail_um         INTEGER NOT NULL CHECK (tail_um >= 0),
    described_at    TEXT    NOT NULL
) STRICT;

-- Shift and stretch as they are in the printer, not their remedy; zero until somebody measured.
CREATE TABLE printer (
    name          TEXT PRIMARY KEY CHECK (name <> ''),
    dpi           INTEGER NOT NULL CHECK (dpi > 0),
    stock         TEXT    NOT NULL,
    shift_x_um    INTEGER NOT NULL,
    shift_y_um    INTEGER NOT NULL,
    stretch_x_ppm INTEGER NOT NULL CHECK (stretch_x_ppm > -1000000),
    stretch_y_ppm INTEGER NOT NULL CHECK (stretch_y_ppm > -1000000),
    checked_at    TEXT    NOT NULL
) STRICT;
