"""The record: jobs, events, clips, pictures, additions, and what the database refuses.

Nothing that a bench sends is believed: the hash of each event (see `assistant.journal.chain`), of
each clip and of each picture is worked out here again, an event has to follow the one before it,
and a clip or picture that an event names has to be there. What is there is never changed or
removed. The search index is made from the events and proves nothing.
"""

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_STATEMENTS = (
    """
    CREATE TABLE job (
        number bigint GENERATED ALWAYS AS IDENTITY UNIQUE,  -- for people, at the shop
        uid text PRIMARY KEY CHECK (uid ~ '^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$'),
        bench text NOT NULL,
        opened text NOT NULL,           -- ISO 8601, local time with its offset
        title text NOT NULL,
        unit text,
        arrived timestamptz NOT NULL DEFAULT now()
    )
    """,
    """
    CREATE TABLE event (
        job text NOT NULL REFERENCES job (uid),
        place integer NOT NULL CHECK (place > 0),
        previous text NOT NULL CHECK (previous ~ '^[0-9a-f]{64}$'),
        hash text NOT NULL CHECK (hash ~ '^[0-9a-f]{64}$'),
        body text NOT NULL,             -- the whole event as canonical JSON (RFC 8785)
        PRIMARY KEY (job, place),
        CONSTRAINT event_hash CHECK (hash = encode(sha256(convert_to(
            '{"event":' || body || ',"job":"' || job || '","place":' || place
            || ',"previous":"' || previous || '"}', 'UTF8')), 'hex'))
    )
    """,
    """
    CREATE TABLE head (                 -- of each job's last event; kept by event_follows
        job text PRIMARY KEY REFERENCES job (uid),
        place integer NOT NULL,
        hash text NOT NULL,
        kind text NOT NULL,
        at text NOT NULL,
        step text
    )
    """,
    """
    CREATE TABLE clip (
        number bigint GENERATED ALWAYS AS IDENTITY UNIQUE,
        job text NOT NULL REFERENCES job (uid),
        sha256 text NOT NULL,
        flac bytea NOT NULL,            -- 16 kHz mono
        PRIMARY KEY (job, sha256),
        CONSTRAINT clip_hash CHECK (sha256 = encode(sha256(flac), 'hex'))
    )
    """,
    "ALTER TABLE clip ALTER COLUMN flac SET STORAGE EXTERNAL",  # FLAC does not shrink
    """
    CREATE TABLE picture (
        number bigint GENERATED ALWAYS AS IDENTITY UNIQUE,
        job text NOT NULL REFERENCES job (uid),
        sha256 text NOT NULL,
        jpeg bytea NOT NULL,
        PRIMARY KEY (job, sha256),
        CONSTRAINT picture_hash CHECK (sha256 = encode(sha256(jpeg), 'hex'))
    )
    """,
    "ALTER TABLE picture ALTER COLUMN jpeg SET STORAGE EXTERNAL",  # nor does JPEG
    """
    CREATE TABLE addition (             -- after the job was closed, by the desk or signed off
        number bigint GENERATED ALWAYS AS IDENTITY UNIQUE,  -- as they arrived
        job text NOT NULL REFERENCES job (uid),
        sha256 text NOT NULL,           -- of the body: the same entry is there once
        body text NOT NULL,             -- one of additions.py, as an event is kept
        PRIMARY KEY (job, sha256),
        CONSTRAINT addition_hash CHECK (sha256 = encode(sha256(convert_to(body, 'UTF8')), 'hex'))
    )
    """,
    """
    CREATE TABLE search (
        number bigint NOT NULL,         -- of the job, so that the latest are found first
        place integer NOT NULL,
        job text NOT NULL,
        own tsvector NOT NULL,          -- of the event
        words tsvector NOT NULL,        -- of the event and its job
        PRIMARY KEY (number, place),
        FOREIGN KEY (job, place) REFERENCES event (job, place)
    )
    """,
    "CREATE INDEX head_open ON head (job) WHERE kind <> 'job closed'",
    "CREATE INDEX search_words ON search USING gin (words)",
    # So that the orders of all jobs are read without reading all that happened in them.
    "CREATE INDEX event_of_orders ON event (job, place) WHERE "
    'strpos(body, \'"kind":"part ordered"\') > 0 '
    'OR strpos(body, \'"kind":"order moved"\') > 0 '
    'OR strpos(body, \'"kind":"customer asked"\') > 0 '
    'OR strpos(body, \'"kind":"withdrawn"\') > 0',
    """
    CREATE FUNCTION event_follows() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        before head%ROWTYPE;
        of job%ROWTYPE;
        -- PostgreSQL has no U+0000 in a text; the hash is of the body as it came.
        said json := replace(NEW.body, '\\u0000', '\\ufffd')::json;
        clip_named text := said -> 'heard' ->> 'clip_sha256';
    BEGIN
        SELECT * INTO before FROM head WHERE job = NEW.job FOR UPDATE;
        SELECT * INTO of FROM job WHERE uid = NEW.job;
        IF NEW.place <> coalesce(before.place, 0) + 1
            OR NEW.previous <> coalesce(before.hash, repeat('0', 64)) THEN
            RAISE EXCEPTION 'event % does not follow the last one that is here', NEW.place
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF before.kind = 'job closed' THEN
            RAISE EXCEPTION 'event % comes after the job was closed', NEW.place
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF NEW.place = 1 AND (said ->> 'kind', said ->> 'at', said ->> 'title', said ->> 'unit')
            IS DISTINCT FROM ('job opened', of.opened, of.title, of.unit) THEN
            RAISE EXCEPTION 'what is noted of the job is not what event 1 says'
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF clip_named IS NOT NULL AND said -> 'heard' ->> 'clip' IS NOT NULL
            AND NOT EXISTS (SELECT FROM clip WHERE job = NEW.job AND sha256 = clip_named) THEN
            RAISE EXCEPTION 'the clip of event % is missing', NEW.place
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF said ->> 'kind' = 'picture taken' AND NOT EXISTS
            (SELECT FROM picture WHERE job = NEW.job AND sha256 = said ->> 'sha256') THEN
            RAISE EXCEPTION 'the picture of event % is missing', NEW.place
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        INSERT INTO head VALUES
            (NEW.job, NEW.place, NEW.hash, said ->> 'kind', said ->> 'at', said ->> 'step')
        ON CONFLICT (job) DO UPDATE SET place = excluded.place, hash = excluded.hash,
            kind = excluded.kind, at = excluded.at, step = excluded.step;
        RETURN NEW;
    END $$
    """,
    "CREATE TRIGGER event_follows BEFORE INSERT ON event "
    "FOR EACH ROW EXECUTE FUNCTION event_follows()",
    """
    CREATE FUNCTION addition_of_sealed() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        said json := replace(NEW.body, '\\u0000', '\\ufffd')::json;
    BEGIN
        IF NOT EXISTS (SELECT FROM head WHERE job = NEW.job AND kind = 'job closed') THEN
            RAISE EXCEPTION 'the job is open; its orders belong into its own record'
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF (said ->> 'kind') IS DISTINCT FROM 'signed off'
            AND ((said ->> 'kind') IN
                ('order moved', 'customer answered', 'picture taken', 'picture taken back')
                AND (said ->> 'at_desk') = 'true') IS DISTINCT FROM true THEN
            RAISE EXCEPTION 'only what the desk enters, or a sign-off, is kept here'
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF said ->> 'kind' = 'picture taken' AND NOT EXISTS
            (SELECT FROM picture WHERE job = NEW.job AND sha256 = said ->> 'sha256') THEN
            RAISE EXCEPTION 'the picture of what was put in after closing is missing'
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        RETURN NEW;
    END $$
    """,
    "CREATE TRIGGER addition_of_sealed BEFORE INSERT ON addition "
    "FOR EACH ROW EXECUTE FUNCTION addition_of_sealed()",
    """
    CREATE FUNCTION never() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION 'what is in the record is never changed or removed'
            USING ERRCODE = 'integrity_constraint_violation';
    END $$
    """,
    *(
        f"CREATE TRIGGER {table}_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION never()"
        for table in ("job", "event", "clip", "picture", "addition")
    ),
    "CREATE TRIGGER head_stays BEFORE DELETE OR TRUNCATE ON head "
    "FOR EACH STATEMENT EXECUTE FUNCTION never()",
    "CREATE TRIGGER head_forward BEFORE UPDATE ON head FOR EACH ROW "
    "WHEN (NEW.place <= OLD.place) EXECUTE FUNCTION never()",
)


def upgrade() -> None:
    """Make the tables, and what guards them."""
    for statement in _STATEMENTS:
        op.execute(statement.replace(":", r"\:"))
