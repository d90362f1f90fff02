-- Articles that are assembled of several pieces; an article is a piece without a cut of its own.

-- A piece had a cut and a board; an article has neither, but parts that have.
CREATE TABLE piece_or_article (
    code          TEXT PRIMARY KEY,
    cut           TEXT    UNIQUE REFERENCES cut (code),
    board         TEXT    REFERENCES board (code),
    shape         TEXT    NOT NULL,
    stage         TEXT    NOT NULL CHECK (stage IN
                  ('rough', 'sanded', 'sealed', 'assembled', 'ready',
                   'sold', 'returned', 'withdrawn')),
    recalled      INTEGER NOT NULL CHECK (recalled >= 0),
    price_minor   INTEGER CHECK (price_minor >= 0),
    currency      TEXT    NOT NULL,
    weight_mg     INTEGER CHECK (weight_mg > 0),
    custody       TEXT    NOT NULL,
    label_printed INTEGER NOT NULL CHECK (label_printed IN (0, 1)),
    cards_printed INTEGER NOT NULL CHECK (cards_printed >= 0),
    made_at       TEXT    NOT NULL,
    CHECK ((cut IS NULL) = (board IS NULL))
) STRICT;

INSERT INTO piece_or_article
SELECT code, cut, board, shape, stage, recalled, price_minor, currency, weight_mg, custody,
       label_printed, cards_printed, made_at
FROM piece;

DROP TABLE piece;

ALTER TABLE piece_or_article RENAME TO piece;

CREATE INDEX piece_board ON piece (board);

-- What an article is made of. A piece that was taken out of it keeps its row here.
CREATE TABLE part (
    article      TEXT    NOT NULL REFERENCES piece (code),
    n            INTEGER NOT NULL CHECK (n >= 1),
    piece        TEXT    NOT NULL REFERENCES piece (code),
    stage_before TEXT    NOT NULL,
    taken_out_at TEXT    NOT NULL,  -- empty while it is in the article
    PRIMARY KEY (article, n)
) STRICT, WITHOUT ROWID;

CREATE INDEX part_piece ON part (piece);

-- How much of an article's material is from which board.
CREATE TABLE board_share (
    article   TEXT    NOT NULL REFERENCES piece (code),
    board     TEXT    NOT NULL REFERENCES board (code),
    share_ppm INTEGER NOT NULL CHECK (share_ppm BETWEEN 0 AND 1000000),
    measured  TEXT    NOT NULL CHECK (measured IN ('weight', 'area')),
    PRIMARY KEY (article, board)
) STRICT, WITHOUT ROWID;
