-- What the hub's answers are read from: rows of each workshop's own projection, as they follow from
-- its journal. They are swapped as a whole in one transaction, so they have no foreign keys.
-- Columns are those of the workshop's tables; free texts that no answer needs stay out.

CREATE TABLE salvage.undone (ws integer, event_id text COLLATE "C", by_event text COLLATE "C",
    PRIMARY KEY (ws, event_id));

CREATE TABLE salvage.clash (ws integer, event_id text COLLATE "C", reason text,
    PRIMARY KEY (ws, event_id));

CREATE TABLE salvage.device (ws integer, letter text COLLATE "C", name text, joined_at text COLLATE "C",
    PRIMARY KEY (ws, letter));

CREATE TABLE salvage.device_key (ws integer, letter text COLLATE "C", public_key text COLLATE "C",
    at text COLLATE "C", PRIMARY KEY (ws, letter, public_key));

CREATE TABLE salvage.donor (ws integer, code text COLLATE "C", source_kind text, described_as text,
    naming text COLLATE "C", name_seal text COLLATE "C", PRIMARY KEY (ws, code));

CREATE TABLE salvage.forgotten (ws integer, donor text COLLATE "C", at text COLLATE "C",
    PRIMARY KEY (ws, donor));

CREATE TABLE salvage.drop_off (ws integer, code text COLLATE "C", donor text COLLATE "C",
    received_on text COLLATE "C", contents text, board_count bigint, weight_mg bigint, origin text,
    origin_country text, PRIMARY KEY (ws, code));
CREATE INDEX ON salvage.drop_off (ws, donor);

CREATE TABLE salvage.board (ws integer, code text COLLATE "C", drop_off text COLLATE "C",
    type text COLLATE "C", maker text COLLATE "C", model text COLLATE "C", date_code text COLLATE "C",
    weight_mg bigint, lead_status text COLLATE "C", place text COLLATE "C", outline_um2 bigint,
    usable_um2 bigint, clearance text COLLATE "C", recalled bigint, retired text,
    recorded_at text COLLATE "C", PRIMARY KEY (ws, code));
CREATE INDEX ON salvage.board (ws, drop_off);

CREATE TABLE salvage.hazard_check (ws integer, board text COLLATE "C", hazard text COLLATE "C",
    finding text COLLATE "C", outcome text COLLATE "C", PRIMARY KEY (ws, board, hazard));

CREATE TABLE salvage.cut (ws integer, code text COLLATE "C", board text COLLATE "C",
    outcome text COLLATE "C", tool text COLLATE "C", shape text COLLATE "C", area_um2 bigint,
    by text COLLATE "C", at text COLLATE "C", clock bigint, PRIMARY KEY (ws, code));
CREATE INDEX ON salvage.cut (ws, board);

CREATE TABLE salvage.piece (ws integer, code text COLLATE "C", cut text COLLATE "C",
    board text COLLATE "C", shape text COLLATE "C", stage text COLLATE "C", recalled bigint,
    price_minor bigint, currency text COLLATE "C", weight_mg bigint, custody text,
    made_at text COLLATE "C", PRIMARY KEY (ws, code));
CREATE INDEX ON salvage.piece (ws, board);
CREATE INDEX ON salvage.piece (ws, cut);

CREATE TABLE salvage.part (ws integer, article text COLLATE "C", n bigint, piece text COLLATE "C",
    taken_out_at text COLLATE "C", PRIMARY KEY (ws, article, n));
CREATE INDEX ON salvage.part (ws, piece);

CREATE TABLE salvage.board_share (ws integer, article text COLLATE "C", board text COLLATE "C",
    share_ppm bigint, measured text, PRIMARY KEY (ws, article, board));

CREATE TABLE salvage.sale (ws integer, piece text COLLATE "C", n bigint, price_minor bigint,
    currency text COLLATE "C", venue text COLLATE "C", sold_on text COLLATE "C",
    returned_on text COLLATE "C", PRIMARY KEY (ws, piece, n));

CREATE TABLE salvage.batch (ws integer, code text COLLATE "C", material text COLLATE "C", name text,
    maker text COLLATE "C", lot text COLLATE "C", received_on text COLLATE "C", recalled bigint,
    PRIMARY KEY (ws, code));
CREATE INDEX ON salvage.batch (lot);

CREATE TABLE salvage.material_use (ws integer, batch text COLLATE "C", n bigint,
    code text COLLATE "C", stage text COLLATE "C", by text COLLATE "C", at text COLLATE "C",
    voided text, PRIMARY KEY (ws, batch, n, code));

CREATE TABLE salvage.staging (ws integer, by text COLLATE "C", at text COLLATE "C",
    piece text COLLATE "C", stage text COLLATE "C", PRIMARY KEY (ws, by, at, piece, stage));

CREATE TABLE salvage.unsaid (ws integer, stage text COLLATE "C", piece text COLLATE "C",
    at text COLLATE "C", PRIMARY KEY (ws, stage, piece));

CREATE TABLE salvage.hazard_mark (ws integer, hazard text COLLATE "C", mark text COLLATE "C",
    code text COLLATE "C", PRIMARY KEY (ws, hazard, mark, code));

CREATE TABLE salvage.measuring (ws integer, board text COLLATE "C", at text COLLATE "C",
    how text COLLATE "C", PRIMARY KEY (ws, board, at, how));

CREATE TABLE salvage.recall (ws integer, code text COLLATE "C", subject text, reason text,
    learned_on text COLLATE "C", state text COLLATE "C", outcome text, cause text, hold bigint,
    PRIMARY KEY (ws, code));

CREATE TABLE salvage.recall_item (ws integer, recall text COLLATE "C", code text COLLATE "C",
    where_at text, joined_at text COLLATE "C", holds bigint, outcome text COLLATE "C",
    settled_at text COLLATE "C", PRIMARY KEY (ws, recall, code));

CREATE TABLE salvage.reservation (ws integer, code text COLLATE "C", board text COLLATE "C",
    shape text, state text COLLATE "C", plan text COLLATE "C", PRIMARY KEY (ws, code));
CREATE INDEX ON salvage.reservation (ws, board);
CREATE INDEX ON salvage.reservation (ws, plan);

CREATE TABLE salvage.consignment (ws integer, code text COLLATE "C", contents text,
    weight_mg bigint, sent_on text COLLATE "C", drop_off text COLLATE "C", PRIMARY KEY (ws, code));
CREATE INDEX ON salvage.consignment (ws, drop_off);

CREATE TABLE salvage.consignment_item (ws integer, consignment text COLLATE "C", n bigint, what text,
    code text COLLATE "C", PRIMARY KEY (ws, consignment, n));

CREATE TABLE salvage.lost_thing (ws integer, code text COLLATE "C", stock_take text COLLATE "C",
    PRIMARY KEY (ws, code));

CREATE TABLE salvage.set_aside (ws integer, piece text COLLATE "C", customer_order text COLLATE "C",
    PRIMARY KEY (ws, piece));

CREATE TABLE salvage.outing (ws integer, code text COLLATE "C", name text, place text,
    begins_on text COLLATE "C", ends_on text COLLATE "C", stall_fee_minor bigint,
    currency text COLLATE "C", state text COLLATE "C", PRIMARY KEY (ws, code));

CREATE TABLE salvage.outing_piece (ws integer, outing text COLLATE "C", piece text COLLATE "C",
    state text COLLATE "C", PRIMARY KEY (ws, outing, piece));
CREATE INDEX ON salvage.outing_piece (ws, piece);

CREATE TABLE salvage.slip (ws integer, number text COLLATE "C", kind text COLLATE "C",
    day text COLLATE "C", at text COLLATE "C", paid_by text COLLATE "C", currency text COLLATE "C",
    venue text COLLATE "C", outing text COLLATE "C", tax_ppm bigint, PRIMARY KEY (ws, number));

CREATE TABLE salvage.slip_line (ws integer, slip text COLLATE "C", n bigint,
    piece text COLLATE "C", sale_n bigint, words text COLLATE "C", list_minor bigint,
    discount_minor bigint, paid_minor bigint, tax_minor bigint, fee_minor bigint, is_gift bigint,
    PRIMARY KEY (ws, slip, n));
CREATE INDEX ON salvage.slip_line (ws, piece, sale_n) WHERE piece <> '';

-- Every table that holds rows of a workshop takes them from the workshop's own sender alone.
DO $$
DECLARE
    held name;
BEGIN
    FOR held IN
        SELECT relname FROM pg_class JOIN pg_attribute ON attrelid = pg_class.oid
        WHERE relnamespace = 'salvage'::regnamespace AND relkind = 'r' AND attname = 'ws'
            AND relname <> 'workshop'
    LOOP
        EXECUTE format('CREATE TRIGGER own_insert AFTER INSERT ON salvage.%I REFERENCING NEW TABLE'
            ' AS touched FOR EACH STATEMENT EXECUTE FUNCTION salvage.check_sender()', held);
        EXECUTE format('CREATE TRIGGER own_delete AFTER DELETE ON salvage.%I REFERENCING OLD TABLE'
            ' AS touched FOR EACH STATEMENT EXECUTE FUNCTION salvage.check_sender()', held);
        IF held NOT IN ('event', 'signed_head') THEN
            EXECUTE format('CREATE TRIGGER no_update BEFORE UPDATE ON salvage.%I FOR EACH STATEMENT'
                ' EXECUTE FUNCTION salvage.refuse_change()', held);
        END IF;
    END LOOP;
END $$;
