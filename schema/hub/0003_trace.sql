-- Where a thing is from, and what became of it, asked of any workshop's journal at the hub.
-- A recursive view cannot look up one thing without working out all, so these are functions. Those
-- that are called from outside do without jit: compiling would take longer than a look-up does.

-- Kinds of things are told by the first letter of their code: G donor, D drop-off, B board, K cut,
-- P piece or article, R place held, J plan, C consignment, V batch of a material, H recall.

CREATE FUNCTION salvage.parents(shop integer, child text)
RETURNS TABLE (code text, place text) LANGUAGE sql STABLE AS $$
    SELECT cut COLLATE "C", '' FROM salvage.piece
    WHERE left(child, 1) = 'P' AND ws = shop AND piece.code = child AND cut IS NOT NULL
    UNION ALL
    SELECT part.piece, lpad(n::text, 12, '0') FROM salvage.part JOIN salvage.piece
        ON piece.ws = part.ws AND piece.code = article AND cut IS NULL
    WHERE left(child, 1) = 'P' AND part.ws = shop AND article = child
    UNION ALL
    SELECT board, '' FROM salvage.cut WHERE left(child, 1) = 'K' AND ws = shop AND cut.code = child
    UNION ALL
    SELECT board, '' FROM salvage.reservation
    WHERE left(child, 1) = 'R' AND ws = shop AND reservation.code = child
    UNION ALL
    SELECT drop_off, '' FROM salvage.board
    WHERE left(child, 1) = 'B' AND ws = shop AND board.code = child
    UNION ALL
    SELECT donor, '' FROM salvage.drop_off
    WHERE left(child, 1) = 'D' AND ws = shop AND drop_off.code = child
    UNION ALL
    SELECT drop_off, '' FROM salvage.consignment
    WHERE left(child, 1) = 'C' AND ws = shop AND consignment.code = child AND drop_off IS NOT NULL
    UNION ALL
    SELECT nullif(cause::json ->> 'code', ''), '' FROM salvage.recall
    WHERE left(child, 1) = 'H' AND ws = shop AND recall.code = child
        AND cause::json ->> 'code' IS NOT NULL
$$;

CREATE FUNCTION salvage.children(shop integer, parent text)
RETURNS TABLE (code text, place text) LANGUAGE sql STABLE AS $$
    SELECT code COLLATE "C", code FROM salvage.drop_off
    WHERE left(parent, 1) = 'G' AND ws = shop AND donor = parent
    UNION ALL
    SELECT code, '1' || code FROM salvage.board
    WHERE left(parent, 1) = 'D' AND ws = shop AND drop_off = parent
    UNION ALL
    SELECT code, '2' || code FROM salvage.consignment
    WHERE left(parent, 1) = 'D' AND ws = shop AND drop_off = parent
    UNION ALL
    SELECT code, '1' || lpad(clock::text, 19, '0') || code FROM salvage.cut
    WHERE left(parent, 1) = 'B' AND ws = shop AND board = parent
    UNION ALL
    SELECT code, '2' || code FROM salvage.reservation
    WHERE left(parent, 1) = 'B' AND ws = shop AND board = parent AND state = 'held'
    UNION ALL
    SELECT code, code FROM salvage.reservation
    WHERE left(parent, 1) = 'J' AND ws = shop AND plan = parent AND state = 'held'
    UNION ALL
    SELECT code, code FROM salvage.consignment_item
    WHERE left(parent, 1) = 'C' AND ws = shop AND consignment = parent AND what = 'container'
    UNION ALL
    SELECT DISTINCT code, code FROM salvage.material_use
    WHERE left(parent, 1) = 'V' AND ws = shop AND batch = parent AND voided = ''
    UNION ALL
    SELECT code, code FROM salvage.piece
    WHERE left(parent, 1) = 'K' AND ws = shop AND cut = parent
    UNION ALL
    SELECT article, article FROM salvage.part
    WHERE left(parent, 1) = 'P' AND ws = shop AND piece = parent AND taken_out_at = ''
    UNION ALL
    -- A piece whose board is recalled as well stands under its board, an article under its parts.
    SELECT item.code, item.code FROM salvage.recall_item AS item LEFT JOIN salvage.piece
        ON piece.ws = item.ws AND piece.code = item.code
    WHERE left(parent, 1) = 'H' AND item.ws = shop AND recall = parent
        AND NOT EXISTS (SELECT FROM salvage.recall_item AS its
            WHERE its.ws = shop AND its.recall = parent AND its.code = piece.board)
        AND NOT EXISTS (SELECT FROM salvage.part JOIN salvage.recall_item AS its
            ON its.ws = part.ws AND its.code = part.piece
            WHERE part.ws = shop AND its.recall = parent AND taken_out_at = ''
                AND article = item.code)
$$;

CREATE FUNCTION salvage.trace_back(shop integer, thing text)
RETURNS TABLE (step bigint, code text) LANGUAGE sql STABLE SET jit = off AS $$
    WITH RECURSIVE line (code, path) AS (
        SELECT thing COLLATE "C", ARRAY[]::text[] COLLATE "C"
        UNION ALL
        SELECT up.code, path || up.place FROM line CROSS JOIN LATERAL
            salvage.parents(shop, line.code) AS up
        WHERE cardinality(path) < 100
    )
    SELECT row_number() OVER (ORDER BY min(path)), code FROM line WHERE code <> thing GROUP BY code
    ORDER BY min(path)
$$;

COMMENT ON FUNCTION salvage.trace_back IS 'From a thing back to its donors, the nearest first.';

CREATE FUNCTION salvage.trace_forward(shop integer, thing text)
RETURNS TABLE (step bigint, depth integer, code text, came_of text) LANGUAGE sql STABLE SET jit = off AS $$
    WITH RECURSIVE tree (code, came_of, path) AS (
        SELECT thing COLLATE "C", NULL::text COLLATE "C", ARRAY[]::text[] COLLATE "C"
        UNION ALL
        SELECT down.code, tree.code, path || down.place FROM tree CROSS JOIN LATERAL
            salvage.children(shop, tree.code) AS down
        WHERE cardinality(path) < 100
    )
    SELECT row_number() OVER (ORDER BY path), cardinality(path), code, came_of FROM tree
    ORDER BY path
$$;

COMMENT ON FUNCTION salvage.trace_forward IS 'A thing with all that came of it, as a tree.';

-- Donors as the public may know them: never more than they agreed to, and a name only where the
-- workshop sends names to the hub.
CREATE VIEW salvage.donor_public AS
SELECT donor.ws, code, source_kind,
    CASE WHEN naming = 'named' AND coalesce(value, '') <> '' THEN value
         WHEN naming <> 'anonymous' AND described_as <> '' THEN described_as
         ELSE 'a donor who stays unnamed' END AS words
FROM salvage.donor LEFT JOIN salvage.sealed ON sealed.ws = donor.ws AND seal = name_seal;

-- The pieces of one cut each that a piece is made of: itself, or all parts of an article.
CREATE VIEW salvage.made_of AS
WITH RECURSIVE inside (ws, piece, part) AS (
    SELECT ws, code, code FROM salvage.piece
    UNION
    SELECT inside.ws, inside.piece, part.piece FROM inside JOIN salvage.part
        ON part.ws = inside.ws AND part.article = inside.part
)
SELECT inside.ws, inside.piece, inside.part, cut, board
FROM inside JOIN salvage.piece ON piece.ws = inside.ws AND piece.code = inside.part
WHERE cut IS NOT NULL;

-- Every piece and article with its boards, drop-offs and donors: the trace as one table.
CREATE VIEW salvage.piece_from AS
SELECT DISTINCT made.ws, workshop.name AS workshop, made.piece, made.board, board.drop_off,
    drop_off.donor, donor_public.words AS donor_words
FROM salvage.made_of AS made
JOIN salvage.workshop ON workshop.ws = made.ws
JOIN salvage.board ON board.ws = made.ws AND board.code = made.board
JOIN salvage.drop_off ON drop_off.ws = made.ws AND drop_off.code = board.drop_off
JOIN salvage.donor_public ON donor_public.ws = made.ws AND donor_public.code = drop_off.donor;
