-- The hub: journals of several workshops in PostgreSQL, append-only, with what is kept beside them.
-- A released file is never edited; a change is a new number.

CREATE SCHEMA salvage;

COMMENT ON SCHEMA salvage IS 'Journals of several workshops, and what is projected from them.';

CREATE TABLE salvage.schema_file (
    number     integer PRIMARY KEY,
    name       text        NOT NULL,
    sha256     text        NOT NULL CHECK (length(sha256) = 64),
    applied_at timestamptz NOT NULL DEFAULT now()
);

-- Workshops use the same device letters and codes; each is told apart by the hash of its first
-- event, which holds 128 bits of chance. The number is short for it and means nothing elsewhere.
CREATE TABLE salvage.workshop (
    ws         integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    first_hash text COLLATE "C" NOT NULL UNIQUE CHECK (first_hash ~ '^[0-9a-f]{64}$'),
    sender     name             NOT NULL DEFAULT current_user,  -- the role that sends for it
    name       text             NOT NULL,
    currency   text COLLATE "C" NOT NULL
);

-- ---------------------------------------------------------------- the truth

CREATE TABLE salvage.event (
    ws        integer          NOT NULL REFERENCES salvage.workshop (ws),
    device    text COLLATE "C" NOT NULL CHECK (length(device) = 1),
    n         integer          NOT NULL CHECK (n >= 1),
    clock     bigint           NOT NULL CHECK (clock >= 1),
    id        text COLLATE "C" NOT NULL,
    kind      text COLLATE "C" NOT NULL,
    operation text COLLATE "C" NOT NULL,
    at        text COLLATE "C" NOT NULL,
    body      text COLLATE "C" NOT NULL,  -- exactly the bytes that were hashed
    prev      text COLLATE "C" NOT NULL CHECK (prev ~ '^[0-9a-f]{64}$'),
    hash      text COLLATE "C" NOT NULL,
    PRIMARY KEY (ws, device, n),
    UNIQUE (ws, clock, device),
    UNIQUE (ws, id),
    CONSTRAINT event_hash_fits CHECK (
        hash = encode(sha256(decode(prev, 'hex') || convert_to(body, 'UTF8')), 'hex')
    )
);

-- How far each chain had come when a device sent, signed with the device's Ed25519 key.
CREATE TABLE salvage.signed_head (
    ws         integer          NOT NULL REFERENCES salvage.workshop (ws),
    signature  text COLLATE "C" NOT NULL CHECK (signature ~ '^[0-9a-f]{128}$'),
    device     text COLLATE "C" NOT NULL CHECK (length(device) = 1),
    public_key text COLLATE "C" NOT NULL CHECK (public_key ~ '^[0-9a-f]{64}$'),
    at         text COLLATE "C" NOT NULL,
    checkpoint text             NOT NULL,  -- the whole file, as 'salvage proof verify' reads it
    PRIMARY KEY (ws, signature)
);

-- The events up to which the tables of the projection stand.
CREATE TABLE salvage.projected (
    ws     integer          NOT NULL REFERENCES salvage.workshop (ws),
    device text COLLATE "C" NOT NULL,
    n      integer          NOT NULL CHECK (n >= 1),
    PRIMARY KEY (ws, device)
);

-- Personal texts, only where a workshop sends them too; erased when a donor is forgotten.
CREATE TABLE salvage.sealed (
    ws    integer          NOT NULL REFERENCES salvage.workshop (ws),
    seal  text COLLATE "C" NOT NULL CHECK (length(seal) = 64),
    salt  text COLLATE "C" NOT NULL CHECK (length(salt) = 64),
    value text             NOT NULL,
    PRIMARY KEY (ws, seal)
);

-- ---------------------------------------------------------------- the guards

CREATE FUNCTION salvage.refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the journals are append-only' USING ERRCODE = 'integrity_constraint_violation';
END $$;

CREATE TRIGGER event_append_only BEFORE UPDATE OR DELETE ON salvage.event
    FOR EACH ROW EXECUTE FUNCTION salvage.refuse_change();
CREATE TRIGGER event_no_truncate BEFORE TRUNCATE ON salvage.event
    FOR EACH STATEMENT EXECUTE FUNCTION salvage.refuse_change();
CREATE TRIGGER signed_head_append_only BEFORE UPDATE OR DELETE ON salvage.signed_head
    FOR EACH ROW EXECUTE FUNCTION salvage.refuse_change();
CREATE TRIGGER signed_head_no_truncate BEFORE TRUNCATE ON salvage.signed_head
    FOR EACH STATEMENT EXECUTE FUNCTION salvage.refuse_change();

CREATE FUNCTION salvage.check_links() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    broken record;
BEGIN
    SELECT fresh.device, fresh.n INTO broken
    FROM fresh JOIN salvage.workshop USING (ws) LEFT JOIN salvage.event AS before
        ON before.ws = fresh.ws AND before.device = fresh.device AND before.n = fresh.n - 1
    WHERE fresh.prev <> coalesce(before.hash, repeat('0', 64))
        OR fresh.clock <= coalesce(before.clock, 0)
        OR (fresh.n > 1 AND before.n IS NULL)
        OR (fresh.clock = 1 AND fresh.hash <> first_hash)
    LIMIT 1;
    IF FOUND THEN
        RAISE EXCEPTION 'event % of device % does not follow the one before', broken.n, broken.device
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NULL;
END $$;

CREATE TRIGGER event_links AFTER INSERT ON salvage.event
    REFERENCING NEW TABLE AS fresh FOR EACH STATEMENT EXECUTE FUNCTION salvage.check_links();

-- A role sends for its own workshops only, although all may share one server.
CREATE FUNCTION salvage.check_sender() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    foreign_ws integer;
BEGIN
    SELECT ws INTO foreign_ws
    FROM (SELECT DISTINCT ws FROM touched) AS mine JOIN salvage.workshop USING (ws)
    WHERE to_regrole(quote_ident(sender)) IS NULL OR NOT pg_has_role(sender, 'MEMBER') LIMIT 1;
    IF FOUND THEN
        RAISE EXCEPTION 'workshop % is sent by another role', foreign_ws
            USING ERRCODE = 'insufficient_privilege';
    END IF;
    RETURN NULL;
END $$;

CREATE FUNCTION salvage.check_workshop() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        NEW.sender := current_user;
    ELSIF NOT pg_has_role(OLD.sender, 'MEMBER') THEN
        RAISE EXCEPTION 'workshop % is sent by another role', OLD.ws
            USING ERRCODE = 'insufficient_privilege';
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER workshop_sender BEFORE INSERT OR UPDATE ON salvage.workshop
    FOR EACH ROW EXECUTE FUNCTION salvage.check_workshop();
CREATE TRIGGER workshop_stays BEFORE DELETE ON salvage.workshop
    FOR EACH ROW EXECUTE FUNCTION salvage.refuse_change();
