-- The first schema: the journal, its projection, and what is kept apart from both.
-- A released file is never edited; a change is a new number.

-- ---------------------------------------------------------------- the truth

CREATE TABLE event (
    seq        INTEGER PRIMARY KEY,
    id         TEXT    NOT NULL UNIQUE,
    device     TEXT    NOT NULL,
    n          INTEGER NOT NULL CHECK (n >= 1),
    clock      INTEGER NOT NULL CHECK (clock >= 1),
    kind       TEXT    NOT NULL,
    operation  TEXT    NOT NULL,
    at         TEXT    NOT NULL,
    body       TEXT    NOT NULL,  -- exactly the bytes that were hashed
    prev       TEXT    NOT NULL CHECK (length(prev) = 64),
    hash       TEXT    NOT NULL UNIQUE CHECK (length(hash) = 64),
    UNIQUE (device, n),
    UNIQUE (clock, device)
) STRICT;

CREATE INDEX event_operation ON event (operation);

CREATE TRIGGER event_no_update BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;

CREATE TRIGGER event_no_delete BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;

CREATE TABLE schema_file (
    number     INTEGER PRIMARY KEY,
    name       TEXT    NOT NULL,
    sha256     TEXT    NOT NULL CHECK (length(sha256) = 64),
    applied_at TEXT    NOT NULL
) STRICT;

CREATE TRIGGER schema_file_no_update BEFORE UPDATE ON schema_file
BEGIN SELECT RAISE(ABORT, 'applied schema files are a record'); END;

-- ------------------------------------- personal fields, bound by salted hashes

CREATE TABLE private_field (
    seal  TEXT PRIMARY KEY CHECK (length(seal) = 64),
    salt  TEXT NOT NULL CHECK (length(salt) = 64),
    value TEXT NOT NULL
) STRICT;

-- ------------------------------------------------- the projection of the journal

CREATE TABLE event_item (
    code TEXT    NOT NULL,
    seq  INTEGER NOT NULL REFERENCES event (seq),
    made INTEGER NOT NULL CHECK (made IN (0, 1)),
    PRIMARY KEY (code, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE undone (
    event_id TEXT PRIMARY KEY,
    by_event TEXT NOT NULL
) STRICT;

CREATE TABLE counter (
    kind   TEXT    NOT NULL,
    device TEXT    NOT NULL,
    last   INTEGER NOT NULL CHECK (last >= 0),
    PRIMARY KEY (kind, device)
) STRICT;

CREATE TABLE setting (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE donor (
    code         TEXT PRIMARY KEY,
    source_kind  TEXT NOT NULL,
    described_as TEXT NOT NULL,
    naming       TEXT NOT NULL CHECK (naming IN ('named', 'described', 'anonymous')),
    naming_how   TEXT NOT NULL,
    naming_at    TEXT NOT NULL,
    name_seal    TEXT,
    contact_seal TEXT
) STRICT;

CREATE TABLE drop_off (
    code           TEXT PRIMARY KEY,
    donor          TEXT    NOT NULL REFERENCES donor (code),
    received_on    TEXT    NOT NULL,
    channel        TEXT    NOT NULL,
    contents       TEXT    NOT NULL,
    board_count    INTEGER CHECK (board_count >= 1),
    weight_mg      INTEGER CHECK (weight_mg > 0),
    origin         TEXT    NOT NULL,
    origin_country TEXT    NOT NULL,
    story          TEXT    NOT NULL,
    notes          TEXT    NOT NULL,
    received_by    TEXT    NOT NULL
) STRICT;

CREATE INDEX drop_off_donor ON drop_off (donor);

CREATE TABLE data_part (
    drop_off   TEXT    NOT NULL REFERENCES drop_off (code),
    n          INTEGER NOT NULL CHECK (n >= 1),
    part       TEXT    NOT NULL,
    count      INTEGER NOT NULL CHECK (count >= 0),
    state      TEXT    NOT NULL CHECK (state IN
               ('open', 'returned', 'sanitised', 'destroyed', 'none found')),
    how        TEXT    NOT NULL,
    settled_by TEXT    NOT NULL,
    settled_at TEXT    NOT NULL,
    PRIMARY KEY (drop_off, n)
) STRICT;

CREATE TABLE file (
    sha256     TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    media_type TEXT    NOT NULL,
    byte_count INTEGER NOT NULL CHECK (byte_count > 0),
    name       TEXT    NOT NULL
) STRICT;

CREATE TABLE shape (
    name       TEXT PRIMARY KEY,
    region     TEXT    NOT NULL,
    area_um2   INTEGER NOT NULL CHECK (area_um2 > 0),
    width_um   INTEGER NOT NULL CHECK (width_um > 0),
    height_um  INTEGER NOT NULL CHECK (height_um > 0),
    sha256     TEXT    NOT NULL REFERENCES file (sha256)
) STRICT;

CREATE TABLE mat (
    serial     TEXT PRIMARY KEY,
    paper      TEXT    NOT NULL,
    colour     TEXT    NOT NULL,
    family     INTEGER NOT NULL,
    bar_x_um   INTEGER CHECK (bar_x_um > 0),
    bar_y_um   INTEGER CHECK (bar_y_um > 0),
    printed_at TEXT    NOT NULL
) STRICT;

CREATE TABLE board (
    code           TEXT PRIMARY KEY,
    drop_off       TEXT    NOT NULL REFERENCES drop_off (code),
    type           TEXT    NOT NULL,
    maker          TEXT    NOT NULL,
    model          TEXT    NOT NULL,
    date_code      TEXT    NOT NULL,
    colour         TEXT    NOT NULL,
    thickness_um   INTEGER CHECK (thickness_um > 0),
    weight_mg      INTEGER CHECK (weight_mg > 0),
    lead_status    TEXT    NOT NULL CHECK (lead_status IN
                   ('unknown', 'assumed-leaded', 'marked-lead-free', 'tested')),
    lead_evidence  TEXT    NOT NULL,
    place          TEXT    NOT NULL,
    notes          TEXT    NOT NULL,
    outline        TEXT,
    outline_from   TEXT    NOT NULL,
    outline_um2    INTEGER NOT NULL CHECK (outline_um2 >= 0),
    usable_um2     INTEGER NOT NULL CHECK (usable_um2 >= 0),
    clearance      TEXT    NOT NULL CHECK (clearance IN ('held', 'cleared')),
    recalled       INTEGER NOT NULL CHECK (recalled >= 0),
    cut_count      INTEGER NOT NULL CHECK (cut_count >= 0),
    retired        TEXT    NOT NULL,
    label_printed  INTEGER NOT NULL CHECK (label_printed IN (0, 1)),
    recorded_at    TEXT    NOT NULL
) STRICT;

CREATE INDEX board_drop_off ON board (drop_off);

CREATE TABLE hazard_check (
    board    TEXT    NOT NULL REFERENCES board (code),
    hazard   TEXT    NOT NULL,
    finding  TEXT    NOT NULL CHECK (finding IN
             ('present', 'absent', 'not checked', 'cannot tell')),
    outcome  TEXT    NOT NULL CHECK (outcome IN ('', 'removed', 'accepted')),
    how      TEXT    NOT NULL,
    goes_to  TEXT    NOT NULL,
    reason   TEXT    NOT NULL,
    by       TEXT    NOT NULL,
    at       TEXT    NOT NULL,
    PRIMARY KEY (board, hazard)
) STRICT;

CREATE TABLE keep_out (
    board  TEXT    NOT NULL REFERENCES board (code),
    n      INTEGER NOT NULL CHECK (n >= 1),
    reason TEXT    NOT NULL,
    region TEXT    NOT NULL,
    lifted INTEGER NOT NULL CHECK (lifted IN (0, 1)),
    PRIMARY KEY (board, n)
) STRICT;

CREATE TABLE reservation (
    code      TEXT PRIMARY KEY,
    board     TEXT    NOT NULL REFERENCES board (code),
    for_whom  TEXT    NOT NULL,
    shape     TEXT    NOT NULL,
    region    TEXT    NOT NULL,
    x_um      INTEGER NOT NULL,
    y_um      INTEGER NOT NULL,
    angle_mdeg INTEGER NOT NULL,
    mirrored  INTEGER NOT NULL CHECK (mirrored IN (0, 1)),
    state     TEXT    NOT NULL CHECK (state IN ('held', 'released', 'cut'))
) STRICT;

CREATE INDEX reservation_board ON reservation (board);

CREATE TABLE cut (
    code              TEXT PRIMARY KEY,
    board             TEXT    NOT NULL REFERENCES board (code),
    outcome           TEXT    NOT NULL CHECK (outcome IN ('piece', 'scrap')),
    side              TEXT    NOT NULL CHECK (side IN ('front', 'back')),
    tool              TEXT    NOT NULL,
    shape             TEXT    NOT NULL,
    shape_sha256      TEXT    NOT NULL,
    x_um              INTEGER NOT NULL,
    y_um              INTEGER NOT NULL,
    angle_mdeg        INTEGER NOT NULL,
    mirrored          INTEGER NOT NULL CHECK (mirrored IN (0, 1)),
    kerf_um           INTEGER NOT NULL CHECK (kerf_um >= 0),
    region            TEXT    NOT NULL,
    area_um2          INTEGER NOT NULL CHECK (area_um2 > 0),
    usable_before_um2 INTEGER NOT NULL,
    usable_after_um2  INTEGER NOT NULL,
    override_reason   TEXT    NOT NULL,
    reservation       TEXT    NOT NULL,
    reason            TEXT    NOT NULL,
    by                TEXT    NOT NULL,
    at                TEXT    NOT NULL,
    clock             INTEGER NOT NULL
) STRICT;

CREATE INDEX cut_board ON cut (board);

CREATE TABLE piece (
    code          TEXT PRIMARY KEY,
    cut           TEXT    NOT NULL UNIQUE REFERENCES cut (code),
    board         TEXT    NOT NULL REFERENCES board (code),
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
    made_at       TEXT    NOT NULL
) STRICT;

CREATE INDEX piece_board ON piece (board);

CREATE TABLE sale (
    piece       TEXT    NOT NULL REFERENCES piece (code),
    n           INTEGER NOT NULL CHECK (n >= 1),
    price_minor INTEGER NOT NULL CHECK (price_minor >= 0),
    currency    TEXT    NOT NULL,
    venue       TEXT    NOT NULL,
    sold_on     TEXT    NOT NULL,
    returned_on TEXT    NOT NULL,
    reason      TEXT    NOT NULL,
    PRIMARY KEY (piece, n)
) STRICT;

CREATE TABLE photo (
    code      TEXT    NOT NULL,
    n         INTEGER NOT NULL CHECK (n >= 1),
    sha256    TEXT    NOT NULL REFERENCES file (sha256),
    side      TEXT    NOT NULL CHECK (side IN ('front', 'back', 'other')),
    caption   TEXT    NOT NULL,
    width_px  INTEGER NOT NULL CHECK (width_px > 0),
    height_px INTEGER NOT NULL CHECK (height_px > 0),
    corners   TEXT    NOT NULL,
    taken_at  TEXT    NOT NULL,
    PRIMARY KEY (code, n)
) STRICT;

CREATE TABLE consignment (
    code      TEXT PRIMARY KEY,
    receiver  TEXT    NOT NULL,
    contents  TEXT    NOT NULL,
    weight_mg INTEGER NOT NULL CHECK (weight_mg > 0),
    sent_on   TEXT    NOT NULL,
    document  TEXT    NOT NULL,
    drop_off  TEXT    REFERENCES drop_off (code)
) STRICT;

CREATE TABLE recall (
    code       TEXT PRIMARY KEY,
    subject    TEXT    NOT NULL,
    reason     TEXT    NOT NULL,
    learned_on TEXT    NOT NULL,
    state      TEXT    NOT NULL CHECK (state IN ('open', 'closed')),
    outcome    TEXT    NOT NULL
) STRICT;

CREATE TABLE recall_item (
    recall   TEXT NOT NULL REFERENCES recall (code),
    code     TEXT NOT NULL,
    where_at TEXT NOT NULL,
    PRIMARY KEY (recall, code)
) STRICT, WITHOUT ROWID;
