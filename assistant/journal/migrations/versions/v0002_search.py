"""Searching: the words of each event that is found by them, and those of its job.

Made from the events and proving nothing, as on the bench (see `assistant.journal.searching`).
"""

import sqlalchemy as sa
from alembic import op

from assistant.journal import chain, searching
from assistant.journal.server import search_words

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_AT_ONCE = 5000


def upgrade() -> None:
    """Make the index, and fill it from what is there."""
    op.execute(
        """
        CREATE TABLE search (
            number bigint NOT NULL,     -- of the job, so that the latest are found first
            place integer NOT NULL,
            job text NOT NULL,
            own tsvector NOT NULL,      -- of the event
            words tsvector NOT NULL,    -- of the event and its job
            PRIMARY KEY (number, place),
            FOREIGN KEY (job, place) REFERENCES event (job, place)
        )
        """
    )
    op.execute("CREATE INDEX search_words ON search USING gin (words)")
    db = op.get_bind()
    rows = db.execute(
        sa.text(
            "SELECT number, place, job, title, unit, body "
            "FROM event JOIN job ON job.uid = event.job"
        ),
        execution_options={"yield_per": _AT_ONCE},
    )
    for part in rows.partitions():
        found = []
        for number, place, job, title, unit, body in part:
            text = searching.text_of(chain.parse(body))
            if text:
                about = search_words(searching.about(title, unit))
                own = search_words(text)
                row = {"number": number, "place": place, "job": job}
                found.append(row | {"own": own, "words": about + own})
        if found:
            db.execute(
                sa.text(
                    "INSERT INTO search VALUES (:number, :place, :job, "
                    "array_to_tsvector(CAST(:own AS text[])), "
                    "array_to_tsvector(CAST(:words AS text[])))"
                ),
                found,
            )
