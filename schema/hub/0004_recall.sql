-- What a cause reaches, over all workshops at once. A cause is JSON as a workshop's own recalls keep
-- it: {"kind": "hazard", "hazard": "...", "marks": [...]}; of descent, {"kind": "descent",
-- "code": "..."}, it needs the workshop, because codes are a workshop's own. One kind more is for
-- the hub alone: {"kind": "lot", "maker": "...", "lot": "..."}, one lot wherever it was used.

-- Year and week of a four-digit date code as one number; null where it names none.
CREATE FUNCTION salvage.week_number(typed text) RETURNS integer LANGUAGE sql IMMUTABLE AS $$
    SELECT CASE WHEN digits ~ '^[0-9]{4}$' AND right(digits, 2)::integer BETWEEN 1 AND 53
        THEN digits::integer + CASE WHEN left(digits, 2) >= '70' THEN 190000 ELSE 200000 END END
    FROM (SELECT replace(replace(typed COLLATE "C", ' ', ''), '-', '') AS digits) AS tidy
$$;

-- The same of a code that was written with the week first.
CREATE FUNCTION salvage.swapped_week(typed text) RETURNS integer LANGUAGE sql IMMUTABLE AS $$
    SELECT CASE WHEN length(digits) = 4
        THEN salvage.week_number(right(digits, 2) || left(digits, 2)) END
    FROM (SELECT replace(replace(typed COLLATE "C", ' ', ''), '-', '') AS digits) AS tidy
$$;

CREATE FUNCTION salvage.hit_by_batch(shops integer[], batches text[])
RETURNS TABLE (ws integer, code text) LANGUAGE sql STABLE AS $$
    WITH asked AS (SELECT ws, code FROM salvage.batch
        JOIN unnest(shops, batches) AS typed (ws, code) USING (ws, code)),
    used AS (SELECT material_use.ws, material_use.code, at FROM asked JOIN salvage.material_use
        ON material_use.ws = asked.ws AND batch = asked.code AND voided = '')
    SELECT ws, code FROM asked
    UNION SELECT ws, code FROM used
    -- What went into an article stays in the parts that it was taken apart into.
    UNION SELECT used.ws, piece FROM used JOIN salvage.part
        ON part.ws = used.ws AND article = used.code AND taken_out_at > at
$$;

CREATE FUNCTION salvage.hit_by_descent(shop integer, began_with text)
RETURNS TABLE (ws integer, code text) LANGUAGE sql STABLE AS $$
    SELECT shop, board.code COLLATE "C" FROM salvage.drop_off JOIN salvage.board
        ON board.ws = drop_off.ws AND board.drop_off = drop_off.code
    WHERE left(began_with, 1) = 'G' AND drop_off.ws = shop AND donor = began_with
    UNION
    SELECT shop, code FROM salvage.board
    WHERE (left(began_with, 1) = 'D' AND ws = shop AND drop_off = began_with)
        OR (left(began_with, 1) = 'B' AND ws = shop AND code = began_with)
    UNION
    SELECT shop, code FROM salvage.piece
    WHERE (left(began_with, 1) = 'K' AND ws = shop AND cut = began_with)
        OR (left(began_with, 1) = 'P' AND ws = shop AND code = began_with)
    UNION
    SELECT shop, piece FROM salvage.part
    WHERE left(began_with, 1) = 'P' AND ws = shop AND article = began_with
    UNION
    SELECT * FROM salvage.hit_by_batch(ARRAY[shop], ARRAY[began_with]) WHERE left(began_with, 1) = 'V'
$$;

CREATE FUNCTION salvage.hit_by_worker(cause json)
RETURNS TABLE (ws integer, code text) LANGUAGE sql STABLE AS $$
    WITH step (ws, code, by, at, stage) AS (
        SELECT ws, piece, by, at, stage FROM salvage.staging
        UNION ALL
        SELECT ws, code, by, at, stage FROM salvage.material_use WHERE voided = ''
        UNION ALL
        SELECT cut.ws, piece.code, by, at, 'rough' FROM salvage.cut JOIN salvage.piece
            ON piece.ws = cut.ws AND piece.cut = cut.code
    ),
    asked AS (
        SELECT ARRAY(SELECT json_array_elements_text(cause -> 'by')) AS names,
            ARRAY(SELECT json_array_elements_text(cause -> 'stages')) AS stages
    )
    SELECT DISTINCT ws, code FROM step CROSS JOIN asked
    WHERE by = ANY (names) AND at >= cause ->> 'since' AND at < cause ->> 'until'
        AND (cardinality(stages) = 0 OR stage = ANY (stages))
$$;

CREATE FUNCTION salvage.hit(cause json, shop integer DEFAULT NULL)
RETURNS TABLE (ws integer, code text) LANGUAGE plpgsql STABLE AS $$
#variable_conflict use_column
BEGIN
    CASE cause ->> 'kind'
    WHEN 'descent' THEN
        IF shop IS NULL THEN
            RAISE EXCEPTION 'a code belongs to one workshop: name its number as well';
        END IF;
        RETURN QUERY SELECT * FROM salvage.hit_by_descent(shop, cause ->> 'code');
    WHEN 'date code' THEN
        RETURN QUERY SELECT ws, code FROM salvage.board
            WHERE salvage.week_number(date_code) BETWEEN salvage.week_number(cause ->> 'first')
                AND salvage.week_number(cause ->> 'last') AND ws = coalesce(shop, ws);
    WHEN 'hazard' THEN
        RETURN QUERY SELECT DISTINCT ws, code FROM salvage.hazard_mark
            WHERE hazard = cause ->> 'hazard' AND ws = coalesce(shop, ws)
                AND mark = ANY (ARRAY(SELECT json_array_elements_text(cause -> 'marks')));
    WHEN 'measured' THEN
        RETURN QUERY SELECT DISTINCT ws, board FROM salvage.measuring
            WHERE at >= cause ->> 'since' AND at < cause ->> 'until' AND ws = coalesce(shop, ws)
                AND position(lower(cause ->> 'how') IN lower(how)) > 0;
    WHEN 'mat' THEN
        RETURN QUERY SELECT DISTINCT ws, board FROM salvage.measuring
            WHERE how ~ ('mat ' || (cause ->> 'serial') || '($|[^0-9])') AND ws = coalesce(shop, ws);
    WHEN 'worker' THEN
        RETURN QUERY SELECT ws, code FROM salvage.hit_by_worker(cause)
            WHERE ws = coalesce(shop, ws);
    WHEN 'lot' THEN
        RETURN QUERY SELECT found.* FROM salvage.hit_by_batch(
            ARRAY(SELECT ws FROM salvage.batch WHERE lot = cause ->> 'lot'
                AND maker = cause ->> 'maker' AND ws = coalesce(shop, ws) ORDER BY ws, code),
            ARRAY(SELECT code FROM salvage.batch WHERE lot = cause ->> 'lot'
                AND maker = cause ->> 'maker' AND ws = coalesce(shop, ws) ORDER BY ws, code)
            ) AS found;
    ELSE
        RAISE EXCEPTION 'nothing is known of a cause of kind %', cause ->> 'kind';
    END CASE;
END $$;

-- What a cause hits, all pieces of a board that is reached, and every article that one of them is in.
CREATE FUNCTION salvage.reach(cause json, shop integer DEFAULT NULL)
RETURNS TABLE (ws integer, code text) LANGUAGE sql STABLE SET jit = off AS $$
    WITH RECURSIVE reach (ws, code) AS (
        SELECT ws, code COLLATE "C" FROM salvage.hit(cause, shop)
        UNION
        SELECT reach.ws, next.code FROM reach CROSS JOIN LATERAL (
            SELECT piece.code FROM salvage.piece
            WHERE piece.ws = reach.ws AND piece.board = reach.code
            UNION ALL
            SELECT article FROM salvage.part
            WHERE part.ws = reach.ws AND part.piece = reach.code AND taken_out_at = ''
        ) AS next
    )
    SELECT ws, code FROM reach ORDER BY ws, code
$$;

-- Where boards, pieces and batches are now; a part is where the article around it is.
CREATE FUNCTION salvage.where_now(shops integer[], codes text[])
RETURNS TABLE (ws integer, code text, what text, place text, venue text, day text)
LANGUAGE sql STABLE SET jit = off AS $$
    WITH RECURSIVE asked (ws, code) AS MATERIALIZED (
        SELECT typed.ws, typed.code COLLATE "C" FROM unnest(shops, codes) AS typed (ws, code)
    ),
    piece AS MATERIALIZED (
        SELECT piece.ws, piece.code, shape AS what,
            CASE WHEN stage = 'sold' THEN 'sold'
                 WHEN lost_thing.code IS NOT NULL THEN 'lost'
                 WHEN stage = 'withdrawn' THEN 'withdrawn'
                 WHEN packed.there THEN 'outing'
                 WHEN set_aside.piece IS NOT NULL THEN 'reserved'
                 ELSE 'bench' END AS place,
            CASE WHEN stage = 'sold' THEN coalesce(last_sale.venue, '') ELSE '' END AS venue,
            CASE WHEN stage = 'sold' THEN coalesce(last_sale.sold_on, '') ELSE '' END AS day,
            (SELECT min(article) FROM salvage.part WHERE part.ws = piece.ws
                AND part.piece = piece.code AND taken_out_at = '') AS around
        FROM asked JOIN salvage.piece USING (ws, code)
        LEFT JOIN salvage.lost_thing USING (ws, code)
        LEFT JOIN salvage.set_aside ON set_aside.ws = piece.ws AND set_aside.piece = piece.code
        LEFT JOIN LATERAL (
            SELECT venue, sold_on FROM salvage.sale
            WHERE sale.ws = piece.ws AND sale.piece = piece.code
            ORDER BY (returned_on = '') DESC, n DESC LIMIT 1
        ) AS last_sale ON stage = 'sold'
        CROSS JOIN LATERAL (
            SELECT EXISTS (SELECT FROM salvage.outing_piece JOIN salvage.outing
                ON outing.ws = outing_piece.ws AND outing.code = outing_piece.outing
                WHERE outing_piece.ws = piece.ws AND outing_piece.piece = piece.code
                    AND outing_piece.state = 'packed' AND outing.state <> 'closed') AS there
        ) AS packed
    ),
    placed (ws, code, what, place, venue, day, around, seen) AS (
        SELECT ws, code, what, place, venue, day, around, ARRAY[code] FROM piece
        UNION ALL
        SELECT placed.ws, placed.code, placed.what, outer_one.place, outer_one.venue,
            outer_one.day, outer_one.around, seen || outer_one.code
        FROM placed JOIN piece AS outer_one
            ON outer_one.ws = placed.ws AND outer_one.code = placed.around
        WHERE placed.place <> 'sold' AND outer_one.code <> ALL (seen)
    )
    SELECT DISTINCT ON (placed.ws, placed.code) placed.ws, placed.code, placed.what, placed.place,
        placed.venue, placed.day
    FROM placed ORDER BY placed.ws, placed.code, cardinality(seen) DESC
    $$;

-- The same with boards and batches beside the pieces, the most urgent first.
CREATE FUNCTION salvage.located(shops integer[], codes text[])
RETURNS TABLE (ws integer, code text, what text, place text, venue text, day text)
LANGUAGE sql STABLE SET jit = off AS $$
    WITH asked (ws, code) AS MATERIALIZED (
        SELECT typed.ws, typed.code COLLATE "C" FROM unnest(shops, codes) AS typed (ws, code)
    ),
    found AS (
        SELECT * FROM salvage.where_now(shops, codes)
        UNION ALL
        SELECT board.ws, board.code,
            concat_ws(' ', nullif(maker, ''), nullif(model, ''), nullif(replace(type, '-', ' '), '')),
            CASE WHEN retired <> '' THEN 'scrapped'
                 WHEN lost_thing.code IS NOT NULL THEN 'lost'
                 WHEN EXISTS (SELECT FROM salvage.reservation WHERE reservation.ws = board.ws
                    AND reservation.board = board.code AND state = 'held') THEN 'reserved'
                 ELSE 'shelf' END, '', ''
        FROM asked JOIN salvage.board USING (ws, code) LEFT JOIN salvage.lost_thing USING (ws, code)
        UNION ALL
        SELECT ws, code, name || CASE WHEN lot <> '' THEN ', lot ' || lot ELSE '' END,
            'material', '', ''
        FROM asked JOIN salvage.batch USING (ws, code)
    )
    SELECT * FROM found ORDER BY array_position(ARRAY['sold', 'outing', 'bench', 'shelf',
        'reserved', 'lost', 'withdrawn', 'scrapped', 'material'], place), ws, code
$$;

CREATE FUNCTION salvage.recall_reach(cause json, shop integer DEFAULT NULL)
RETURNS TABLE (ws integer, workshop text, code text, what text, place text, venue text, day text)
LANGUAGE sql STABLE SET jit = off AS $$
    WITH reached AS MATERIALIZED (SELECT ws, code FROM salvage.reach(cause, shop))
    SELECT found.ws, name, found.code, what, place, venue, day
    FROM salvage.located(ARRAY(SELECT ws FROM reached ORDER BY ws, code),
        ARRAY(SELECT code FROM reached ORDER BY ws, code)) AS found
    JOIN salvage.workshop USING (ws)
    ORDER BY array_position(ARRAY['sold', 'outing', 'bench', 'shelf', 'reserved', 'lost',
        'withdrawn', 'scrapped', 'material'], place), found.ws, found.code
$$;

COMMENT ON FUNCTION salvage.recall_reach IS
    'All that a cause reaches in all workshops, or in one, and where each thing is now.';

-- What the workshops themselves called back and nobody has settled yet.
CREATE VIEW salvage.recall_open AS
SELECT recall.ws, workshop.name AS workshop, recall.code AS recall, subject, reason, learned_on,
    item.code, item.where_at, item.outcome
FROM salvage.recall JOIN salvage.workshop USING (ws)
JOIN salvage.recall_item AS item ON item.ws = recall.ws AND item.recall = recall.code
WHERE state = 'open' AND item.outcome IN ('', 'returned');
