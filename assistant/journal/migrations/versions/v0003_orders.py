"""Orders: those of all jobs are read without reading all that happened in them."""

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the index."""
    op.execute(
        "CREATE INDEX event_of_orders ON event (job, place) WHERE "
        'strpos(body, \'"kind":"part ordered"\') > 0 '
        'OR strpos(body, \'"kind":"order moved"\') > 0 '
        'OR strpos(body, \'"kind":"withdrawn"\') > 0'
    )
