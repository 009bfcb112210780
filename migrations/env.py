"""Runs the revisions on the connection that it is given, in the transaction of that connection.

Add columns and tables; do not rebuild a table on SQLite (Alembic's batch mode): that drops its
triggers without a word, and with foreign keys on it deletes the rows that point to it.
"""

from alembic import context
from alembic.util import CommandError


def run() -> None:
    """Raises CommandError when no connection was given."""
    connection = context.config.attributes.get("connection")
    if connection is None:
        raise CommandError("migrations run from the program, on a connection that it gives")
    context.configure(connection=connection)
    with context.begin_transaction():
        context.run_migrations()


run()
