"""Brings a database to the tables of this code, and back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

if TYPE_CHECKING:
    from tracker.store.engine import Store

MIGRATING = 0x6361726477726974
"""The number of PostgreSQL's advisory lock for migrations: "cardwrit" in ASCII."""


def upgrade(store: Store, to: str = "head") -> None:
    """Bring the database up to a revision, in one transaction. Nothing to do is fine."""
    with store.writing() as connection:
        _alone(connection)
        command.upgrade(_config(connection), to)


def downgrade(store: Store, to: str) -> None:
    """Take the database down to a revision, or to "base": no tables, and nothing kept."""
    with store.writing() as connection:
        _alone(connection)
        command.downgrade(_config(connection), to)


def current(store: Store) -> str | None:
    """The revision of the database; None when it is new."""
    with store.reading() as connection:
        return current_of(connection)


def current_of(connection: Connection) -> str | None:
    """The revision of the database of that connection; None when it is new."""
    return MigrationContext.configure(connection).get_current_revision()


def is_current(store: Store) -> bool:
    """Whether the database has the tables of this code."""
    return current(store) == head()


def head() -> str:
    """The newest revision that this code knows."""
    return known()[-1]


def known() -> list[str]:
    """Every revision that this code knows, the oldest first."""
    scripts = ScriptDirectory.from_config(_config()).walk_revisions()
    return [script.revision for script in scripts][::-1]


def folder() -> Path:
    """Where the migrations stand: in the package when installed, else beside it."""
    installed = Path(__file__).parents[1] / "migrations"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "migrations"


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(folder()).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _alone(connection: Connection) -> None:
    """Wait for another process that migrates: on SQLite whoever writes is alone anyway."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": MIGRATING})
