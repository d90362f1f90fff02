-- The workshop's own rows of the knowledge base: hazards, limits and materials.

CREATE TABLE own_fact (
    kind      TEXT NOT NULL CHECK (kind IN ('hazard', 'limit', 'material')),
    slug      TEXT NOT NULL CHECK (slug LIKE 'own-%'),
    fields    TEXT NOT NULL,  -- JSON, text by column name
    withdrawn TEXT NOT NULL,  -- why it no longer counts; empty while it does
    by        TEXT NOT NULL,
    at        TEXT NOT NULL,
    PRIMARY KEY (kind, slug)
) STRICT;
