-- Season figures over all workshops, each in its own currency and never added across currencies.

-- Sales and returns of the time before slips were kept stand in the ledger too.
CREATE VIEW salvage.ledger AS
SELECT slip.ws, day, number AS slip, kind, n, piece, words, list_minor, discount_minor, paid_minor,
    tax_minor, fee_minor, is_gift, currency, tax_ppm, paid_by, outing, venue
FROM salvage.slip JOIN salvage.slip_line ON slip_line.ws = slip.ws AND slip = number
UNION ALL
SELECT sale.ws, sold_on, '', 'sale', n, sale.piece, shape, sale.price_minor, 0, sale.price_minor,
    0, 0, 0, sale.currency, NULL, '', '', venue
FROM salvage.sale JOIN salvage.piece ON piece.ws = sale.ws AND piece.code = sale.piece
WHERE NOT EXISTS (SELECT FROM salvage.slip_line AS line JOIN salvage.slip
    ON slip.ws = line.ws AND number = slip WHERE kind = 'sale' AND line.piece <> ''
    AND line.ws = sale.ws AND line.piece = sale.piece AND line.sale_n = sale.n)
UNION ALL
SELECT sale.ws, returned_on, '', 'refund', n, sale.piece, shape, sale.price_minor, 0,
    sale.price_minor, 0, 0, 0, sale.currency, NULL, '', '', venue
FROM salvage.sale JOIN salvage.piece ON piece.ws = sale.ws AND piece.code = sale.piece
WHERE returned_on <> '' AND NOT EXISTS (SELECT FROM salvage.slip_line AS line JOIN salvage.slip
    ON slip.ws = line.ws AND number = slip WHERE kind = 'refund' AND line.piece <> ''
    AND line.ws = sale.ws AND line.piece = sale.piece AND line.sale_n = sale.n);

-- Sums of one day, shape and outing; every other sum is made of these, for any period.
CREATE VIEW salvage.season_day AS
SELECT ledger.ws, workshop.name AS workshop, day, words AS shape, outing, ledger.currency,
    ledger.currency = workshop.currency AS is_own_currency,
    count(*) FILTER (WHERE kind = 'sale' AND is_gift = 0) AS sold,
    count(*) FILTER (WHERE kind = 'sale' AND is_gift = 1) AS given,
    count(*) FILTER (WHERE kind = 'refund') AS returned,
    coalesce(sum(list_minor) FILTER (WHERE kind = 'sale' AND is_gift = 0), 0)::bigint AS list_minor,
    coalesce(sum(discount_minor) FILTER (WHERE kind = 'sale' AND is_gift = 0), 0)::bigint
        AS discount_minor,
    coalesce(sum(paid_minor) FILTER (WHERE kind = 'sale'), 0)::bigint AS paid_minor,
    coalesce(sum(paid_minor) FILTER (WHERE kind = 'refund'), 0)::bigint AS refunded_minor,
    sum(CASE kind WHEN 'sale' THEN tax_minor ELSE -tax_minor END)::bigint AS tax_minor,
    sum(CASE kind WHEN 'sale' THEN fee_minor ELSE -fee_minor END)::bigint AS fee_minor
FROM salvage.ledger JOIN salvage.workshop USING (ws)
GROUP BY ledger.ws, workshop.name, workshop.currency, day, words, outing, ledger.currency;

CREATE FUNCTION salvage.season_totals(since text DEFAULT '', until text DEFAULT '9999')
RETURNS TABLE (ws integer, workshop text, currency text, month text, shape text, outing text,
    sold bigint, given bigint, returned bigint, list_minor bigint, discount_minor bigint,
    paid_minor bigint, refunded_minor bigint, tax_minor bigint, fee_minor bigint)
LANGUAGE sql STABLE SET jit = off AS $$
    -- One row for all, one for each month, one for each shape, one for each outing of a workshop.
    SELECT ws, workshop, currency, left(day, 7), shape, outing, sum(sold)::bigint,
        sum(given)::bigint, sum(returned)::bigint, sum(list_minor)::bigint,
        sum(discount_minor)::bigint, sum(paid_minor)::bigint, sum(refunded_minor)::bigint,
        sum(tax_minor)::bigint, sum(fee_minor)::bigint
    FROM salvage.season_day WHERE day >= since AND day <= until
    GROUP BY GROUPING SETS ((ws, workshop, currency), (ws, workshop, currency, left(day, 7)),
        (ws, workshop, currency, shape), (ws, workshop, currency, outing))
$$;

-- The same of all time as views, a workshop's own currency only, as its own season report has it.
CREATE VIEW salvage.season_whole AS
SELECT ws, workshop, currency, sum(sold)::bigint AS sold, sum(given)::bigint AS given,
    sum(returned)::bigint AS returned, sum(paid_minor - refunded_minor)::bigint AS net_minor,
    sum(paid_minor - refunded_minor - tax_minor - fee_minor)::bigint AS earned_minor
FROM salvage.season_day WHERE is_own_currency GROUP BY ws, workshop, currency;

CREATE VIEW salvage.season_month AS
SELECT ws, workshop, currency, left(day, 7) AS month, sum(sold)::bigint AS sold,
    sum(given)::bigint AS given, sum(returned)::bigint AS returned,
    sum(paid_minor - refunded_minor)::bigint AS net_minor
FROM salvage.season_day WHERE is_own_currency GROUP BY ws, workshop, currency, left(day, 7);

-- Pieces that could still be sold, by shape and stage.
CREATE VIEW salvage.season_stock AS
SELECT piece.ws, shape, stage, count(*) AS pieces FROM salvage.piece
LEFT JOIN salvage.lost_thing USING (ws, code)
WHERE stage NOT IN ('sold', 'withdrawn') AND lost_thing.code IS NULL
    AND NOT EXISTS (SELECT FROM salvage.part WHERE part.ws = piece.ws AND part.piece = piece.code
        AND taken_out_at = '')
GROUP BY piece.ws, shape, stage;

-- By shape: what it earned, what is in stock, and sell-through, the part that sold of both.
CREATE VIEW salvage.season_shape AS
WITH sold AS (
    SELECT ws, workshop, currency, shape, sum(sold)::bigint AS sold, sum(given)::bigint AS given,
        sum(returned)::bigint AS returned, sum(paid_minor - refunded_minor)::bigint AS net_minor,
        sum(paid_minor - refunded_minor - tax_minor - fee_minor)::bigint AS earned_minor
    FROM salvage.season_day WHERE is_own_currency GROUP BY ws, workshop, currency, shape
),
left_over AS (
    SELECT ws, shape, sum(pieces)::bigint AS stock FROM salvage.season_stock GROUP BY ws, shape
)
SELECT sold.*, coalesce(stock, 0) AS stock,
    round(100.0 * (sold - returned) / nullif(sold - returned + coalesce(stock, 0), 0), 1)
        AS sold_percent
FROM sold LEFT JOIN left_over USING (ws, shape);

-- By outing: what was there, and what it earned after its stall fee.
CREATE VIEW salvage.season_outing AS
WITH sold AS (
    SELECT ws, workshop, currency, outing, sum(sold)::bigint AS sold,
        sum(returned)::bigint AS returned, sum(paid_minor - refunded_minor)::bigint AS net_minor,
        sum(paid_minor - refunded_minor - tax_minor - fee_minor)::bigint AS kept_minor
    FROM salvage.season_day WHERE is_own_currency GROUP BY ws, workshop, currency, outing
),
seen AS (
    SELECT ws, outing, piece FROM salvage.outing_piece WHERE state <> 'unpacked'
    UNION
    SELECT slip.ws, outing, piece FROM salvage.slip JOIN salvage.slip_line
        ON slip_line.ws = slip.ws AND slip = number WHERE piece <> ''
),
there AS (
    SELECT ws, outing, count(*) AS count FROM (
        SELECT ws, outing FROM seen
        UNION ALL
        SELECT slip.ws, outing FROM salvage.slip JOIN salvage.slip_line
            ON slip_line.ws = slip.ws AND slip = number WHERE piece = '' AND kind = 'sale'
    ) AS things GROUP BY ws, outing
)
SELECT sold.ws, sold.workshop, sold.currency, outing.code AS outing, outing.name, begins_on,
    coalesce(there.count, 0) AS there, sold, returned, net_minor, stall_fee_minor,
    kept_minor - stall_fee_minor AS earned_minor,
    round(100.0 * (sold - returned) / nullif(there.count, 0), 1) AS sold_percent
FROM sold JOIN salvage.outing ON outing.ws = sold.ws AND outing.code = sold.outing
LEFT JOIN there ON there.ws = sold.ws AND there.outing = sold.outing;

-- All workshops together, month by month, one row for each currency.
CREATE VIEW salvage.season_together AS
SELECT currency, month, count(DISTINCT ws) AS workshops, sum(sold)::bigint AS sold,
    sum(given)::bigint AS given, sum(returned)::bigint AS returned,
    sum(net_minor)::bigint AS net_minor
FROM salvage.season_month GROUP BY currency, month;

-- Pieces that stayed away and what was kept for them, by board; untraced under an empty board. What
-- was paid for an article is shared among its boards as its material is, whole minor units that sum
-- to what was paid: by largest remainder, of equal remainders the first.
CREATE FUNCTION salvage.sales_of_boards(since text DEFAULT '', until text DEFAULT '9999')
RETURNS TABLE (ws integer, board text, sold bigint, net_minor bigint) LANGUAGE sql STABLE SET jit = off AS $$
    WITH origin AS MATERIALIZED (
        SELECT ledger.ws, coalesce(piece.board, piece.code, '') AS code,
            sum(CASE kind WHEN 'sale' THEN 1 ELSE -1 END)::bigint AS gone,
            sum(CASE kind WHEN 'sale' THEN paid_minor ELSE -paid_minor END)::bigint AS net
        FROM salvage.ledger JOIN salvage.workshop
            ON workshop.ws = ledger.ws AND workshop.currency = ledger.currency
        LEFT JOIN salvage.piece ON piece.ws = ledger.ws AND piece.code = ledger.piece
        WHERE day >= since AND day <= until
        GROUP BY ledger.ws, coalesce(piece.board, piece.code, '')
    ),
    share AS (
        SELECT origin.ws, origin.code, board, net,
            CASE WHEN sum(share_ppm) OVER article = 0 THEN 1 ELSE share_ppm END AS weight
        FROM origin JOIN salvage.board_share
            ON board_share.ws = origin.ws AND article = origin.code
        WINDOW article AS (PARTITION BY origin.ws, origin.code)
    ),
    cut_up AS (
        SELECT *, div(abs(net) * weight, sum(weight) OVER article) AS base,
            mod(abs(net) * weight, sum(weight) OVER article) AS rest
        FROM share WINDOW article AS (PARTITION BY ws, code)
    ),
    shared AS (
        SELECT ws, board, sign(net)::integer * (base + CASE WHEN
            row_number() OVER (PARTITION BY ws, code ORDER BY rest DESC, board)
            <= abs(net) - sum(base) OVER (PARTITION BY ws, code) THEN 1 ELSE 0 END) AS net
        FROM cut_up
    ),
    sold AS (
        SELECT ws, code AS board, gone FROM origin WHERE left(code, 1) <> 'P'
        UNION ALL
        SELECT origin.ws, made.board, gone FROM origin JOIN LATERAL (
            WITH RECURSIVE inside (part) AS (
                SELECT origin.code
                UNION
                SELECT part.piece FROM inside JOIN salvage.part
                    ON part.ws = origin.ws AND part.article = inside.part
            )
            SELECT piece.board FROM inside JOIN salvage.piece
                ON piece.ws = origin.ws AND piece.code = inside.part WHERE cut IS NOT NULL
        ) AS made ON left(origin.code, 1) = 'P'
    ),
    kept AS (
        SELECT ws, board, net FROM shared
        UNION ALL
        SELECT origin.ws, coalesce(board.code, ''), net FROM origin
        LEFT JOIN salvage.board ON board.ws = origin.ws AND board.code = origin.code
        WHERE NOT EXISTS (SELECT FROM salvage.board_share
            WHERE board_share.ws = origin.ws AND article = origin.code)
    ),
    both_sums AS (
        SELECT ws, board, gone, 0::numeric AS net FROM sold
        UNION ALL
        SELECT ws, board, 0, net FROM kept
    )
    SELECT ws, board, sum(gone)::bigint, sum(net)::bigint FROM both_sums GROUP BY ws, board
$$;

-- What each board that was cut has given; area and pieces as of now, sales of the period.
CREATE FUNCTION salvage.season_boards(since text DEFAULT '', until text DEFAULT '9999')
RETURNS TABLE (ws integer, board text, donor text, outline_um2 bigint, pieces_um2 bigint,
    usable_um2 bigint, pieces bigint, sold bigint, net_minor bigint) LANGUAGE sql STABLE SET jit = off AS $$
    WITH cuts AS (
        SELECT ws, cut.board,
            coalesce(sum(area_um2) FILTER (WHERE outcome = 'piece'), 0)::bigint AS pieces_um2,
            count(*) FILTER (WHERE outcome = 'piece') AS pieces
        FROM salvage.cut GROUP BY ws, cut.board
    )
    SELECT board.ws, board.code, drop_off.donor, outline_um2, pieces_um2,
        CASE WHEN retired = '' AND lost_thing.code IS NULL THEN usable_um2 ELSE 0 END, pieces,
        coalesce(sales.sold, 0), coalesce(sales.net_minor, 0)
    FROM cuts JOIN salvage.board ON board.ws = cuts.ws AND board.code = cuts.board
    JOIN salvage.drop_off ON drop_off.ws = board.ws AND drop_off.code = board.drop_off
    LEFT JOIN salvage.lost_thing ON lost_thing.ws = board.ws AND lost_thing.code = board.code
    LEFT JOIN salvage.sales_of_boards(since, until) AS sales
        ON sales.ws = board.ws AND sales.board = board.code
    ORDER BY board.ws, board.code
$$;

-- What came of each donor's equipment.
CREATE FUNCTION salvage.season_donors(since text DEFAULT '', until text DEFAULT '9999')
RETURNS TABLE (ws integer, donor text, words text, received_mg bigint, unweighed bigint,
    boards bigint, pieces bigint, sold bigint, net_minor bigint) LANGUAGE sql STABLE SET jit = off AS $$
    WITH came AS (
        SELECT ws, donor, sum(weight_mg)::bigint AS received_mg,
            count(*) FILTER (WHERE weight_mg IS NULL) AS unweighed
        FROM salvage.drop_off GROUP BY ws, donor
    ),
    held AS (
        SELECT board.ws, donor, count(*) AS boards FROM salvage.board JOIN salvage.drop_off
            ON drop_off.ws = board.ws AND drop_off.code = board.drop_off GROUP BY board.ws, donor
    ),
    gave AS (
        SELECT ws, donor, sum(pieces)::bigint AS pieces, sum(sold)::bigint AS sold,
            sum(net_minor)::bigint AS net_minor
        FROM salvage.season_boards(since, until) GROUP BY ws, donor
    )
    SELECT donor.ws, donor.code, donor.words, coalesce(received_mg, 0), coalesce(unweighed, 0),
        coalesce(boards, 0), coalesce(pieces, 0), coalesce(sold, 0), coalesce(net_minor, 0)
    FROM salvage.donor_public AS donor
    LEFT JOIN came ON came.ws = donor.ws AND came.donor = donor.code
    LEFT JOIN held ON held.ws = donor.ws AND held.donor = donor.code
    LEFT JOIN gave ON gave.ws = donor.ws AND gave.donor = donor.code
    ORDER BY donor.ws, coalesce(net_minor, 0) DESC, coalesce(pieces, 0) DESC, donor.code
$$;

-- Boards that were cut and can be cut again, the most area first.
CREATE VIEW salvage.season_remnants AS
SELECT season.ws, workshop.name AS workshop, board, usable_um2
FROM salvage.season_boards() AS season JOIN salvage.workshop USING (ws)
WHERE usable_um2 > 0 ORDER BY usable_um2 DESC, season.ws, board;
