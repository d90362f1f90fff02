-- Words of documents that the workshop wrote itself, and documents that were printed.

CREATE TABLE wording (
    document TEXT PRIMARY KEY,
    words    TEXT NOT NULL,  -- by name, as canonical JSON
    sha256   TEXT NOT NULL CHECK (length(sha256) = 64),
    set_at   TEXT NOT NULL
) STRICT;

CREATE TABLE printed_paper (
    event_id       TEXT PRIMARY KEY,
    document       TEXT NOT NULL,
    code           TEXT NOT NULL,  -- what it is about; empty for the whole workshop
    wording_sha256 TEXT NOT NULL CHECK (length(wording_sha256) = 64),
    text_sha256    TEXT NOT NULL CHECK (length(text_sha256) = 64),
    naming         TEXT NOT NULL,
    at             TEXT NOT NULL
) STRICT;

CREATE INDEX printed_paper_code ON printed_paper (code);
