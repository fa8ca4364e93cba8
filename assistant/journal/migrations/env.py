"""Alembic's way in: runs the revisions on the connection it is handed, in its transaction."""

from alembic import context

from assistant.journal.server import VERSION_TABLE

context.configure(
    connection=context.config.attributes["connection"],
    version_table=VERSION_TABLE,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
