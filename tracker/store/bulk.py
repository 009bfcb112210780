"""Many rows at once, past the layers that cost more than the database does."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table, insert

FEW = 100
"""Up to this many rows go the ordinary way."""


def put(conn: Connection, of: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert rows that are not there. Every row has the same keys: names of columns.

    Many go through the driver itself: executemany on SQLite, COPY on PostgreSQL.
    """
    if not rows:
        return
    if len(rows) <= FEW:
        conn.execute(insert(of), list(rows))
        return
    names = list(rows[0])
    dialect = conn.dialect
    found = [of.c[name].type.dialect_impl(dialect).bind_processor(dialect) for name in names]
    binds = [(place, bind) for place, bind in enumerate(found) if bind is not None]
    values = [_bound(row, binds) for row in rows]
    columns = ", ".join(dialect.identifier_preparer.quote(name) for name in names)
    where = f"{dialect.identifier_preparer.quote(of.name)} ({columns})"
    if dialect.name == "postgresql":
        _copy(conn, f"COPY {where} FROM STDIN", values)
    else:
        marks = ", ".join("?" for _ in names)
        conn.exec_driver_sql(f"INSERT INTO {where} VALUES ({marks})", values)


def _bound(row: dict[str, Any], binds: list[tuple[int, Any]]) -> tuple[Any, ...]:
    values = list(row.values())
    for place, bind in binds:
        values[place] = bind(values[place])
    return tuple(values)


def _copy(conn: Connection, statement: str, values: list[tuple[Any, ...]]) -> None:
    driver: Any = conn.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(statement) as copy:
        for row in values:
            copy.write_row(row)
