-- Minutes by step: what was measured on pieces, and what the workshop reckons with otherwise.

CREATE TABLE time_spent (
    event_id TEXT    NOT NULL,
    piece    TEXT    NOT NULL,  -- may be one that another device has taken back
    step     TEXT    NOT NULL,
    seconds  INTEGER NOT NULL CHECK (seconds >= 0),
    PRIMARY KEY (event_id, piece)
) STRICT, WITHOUT ROWID;

CREATE INDEX time_spent_piece ON time_spent (piece);

CREATE TABLE step_rate (
    shape   TEXT    NOT NULL,  -- empty for every shape that has no rate of its own
    step    TEXT    NOT NULL,
    tool    TEXT    NOT NULL,  -- empty for every tool that has no rate of its own
    seconds INTEGER NOT NULL CHECK (seconds >= 0),
    PRIMARY KEY (shape, step, tool)
) STRICT, WITHOUT ROWID;
