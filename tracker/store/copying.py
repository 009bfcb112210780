"""A database as a whole: copied while it is used, looked through, counted."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, func, select

from tracker.store.engine import SqliteError, Store, raw_sqlite

SHOWN = 3


def copy_sqlite(store: Store, to: Path) -> None:
    """Copy a SQLite database into a new file, as it stands at one moment, by the library itself.

    The copy is one file by itself, in journal mode delete. Errors: DBAPIError, SqliteError.
    """
    with store.reading() as conn, closing(raw_sqlite(to)) as target:
        source: Any = conn.connection.driver_connection
        # All pages in one step: between steps another process that writes would begin it anew.
        source.backup(target, pages=-1)
        target.execute("PRAGMA journal_mode=DELETE")


def as_one_file(file: Path) -> None:
    """Bring all of a SQLite database into its file. Errors: SqliteError where others use it."""
    with closing(raw_sqlite(file, timeout_s=1)) as connection:
        (mode,) = connection.execute("PRAGMA journal_mode=DELETE").fetchone()
        if mode != "delete":
            raise SqliteError(f"its journal mode stays {mode}")
        # In that mode others who have it open show only when they are shut out.
        connection.execute("PRAGMA locking_mode=EXCLUSIVE")
        connection.execute("BEGIN EXCLUSIVE")
        connection.execute("COMMIT")


def faults_in(conn: Connection) -> list[str]:
    """What the database's own check finds, the first few lines; PostgreSQL has none such."""
    if conn.dialect.name != "sqlite":
        return []
    found = conn.exec_driver_sql(f"PRAGMA integrity_check({SHOWN})").scalars().all()
    lines = [] if found == ["ok"] else [" ".join(str(line).split()) for line in found]
    for table, *_ in conn.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(SHOWN):
        lines.append(f"a row of {table} points to none")
    return lines


def counts_of(conn: Connection) -> dict[str, int]:
    """How many rows each table has, by name, whatever revision the tables are of."""
    metadata = MetaData()
    metadata.reflect(conn)
    return {
        table.name: conn.scalar(select(func.count()).select_from(table)) or 0
        for table in metadata.sorted_tables
        if table.name != "alembic_version"
    }
