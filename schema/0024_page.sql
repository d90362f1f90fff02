-- What the bench page has sent once, so that a message sent twice makes one record.
-- This device's own notes: no part of the journal, nor of what is made from it.

CREATE TABLE page_deed (
    key       TEXT PRIMARY KEY CHECK (length(key) = 64),
    operation TEXT NOT NULL,
    at        TEXT NOT NULL
) STRICT, WITHOUT ROWID;
