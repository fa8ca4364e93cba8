"""What the parts desk entered after a job was closed: beside its chain, never changed either."""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_STATEMENTS = (
    """
    CREATE TABLE afterwards (
        number bigint GENERATED ALWAYS AS IDENTITY UNIQUE,  -- as they arrived
        job text NOT NULL REFERENCES job (uid),
        sha256 text NOT NULL,           -- of the body: the same entry is there once
        body text NOT NULL,             -- an order moved, as an event is kept
        PRIMARY KEY (job, sha256),
        CONSTRAINT afterwards_hash CHECK (sha256 = encode(sha256(convert_to(body, 'UTF8')), 'hex'))
    )
    """,
    """
    CREATE FUNCTION afterwards_of_sealed() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        said json := replace(NEW.body, '\\u0000', '\\ufffd')::json;
    BEGIN
        IF NOT EXISTS (SELECT FROM head WHERE job = NEW.job AND kind = 'job closed') THEN
            RAISE EXCEPTION 'the job is open; its orders belong into its own record'
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF (said ->> 'kind', said ->> 'at_desk') IS DISTINCT FROM ('order moved', 'true') THEN
            RAISE EXCEPTION 'only what the parts desk enters of orders is kept beside a closed job'
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        RETURN NEW;
    END $$
    """,
    "CREATE TRIGGER afterwards_of_sealed BEFORE INSERT ON afterwards "
    "FOR EACH ROW EXECUTE FUNCTION afterwards_of_sealed()",
    "CREATE TRIGGER afterwards_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON afterwards "
    "FOR EACH STATEMENT EXECUTE FUNCTION never()",
)


def upgrade() -> None:
    """Make the table, and what guards it."""
    for statement in _STATEMENTS:
        op.execute(statement.replace(":", r"\:"))
