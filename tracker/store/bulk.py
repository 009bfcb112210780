"""Rows that are added, past the layers that cost more than the database does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any

from sqlalchemy import Boolean, Connection, Dialect, Table
from sqlalchemy.types import TypeEngine

from tracker.store.quick import driven_many

FEW = 100
"""On PostgreSQL more rows than this go by COPY."""

_Binds = tuple[tuple[int, Callable[[Any], Any]], ...]


def put(conn: Connection, of: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert rows that are not there. Every row has the same keys in the same order: columns."""
    if not rows:
        return
    names = tuple(rows[0])
    _, binds = _written(of, names, conn.dialect)
    put_values(conn, of, names, [_bound(row, binds) for row in rows])


def put_values(
    conn: Connection, of: Table, names: tuple[str, ...], values: Sequence[tuple[Any, ...]]
) -> None:
    """As `put`, of values that are already as the driver takes them, in the order of the names.

    Times are microseconds since 1970 then.
    """
    if not values:
        return
    where, _ = _written(of, names, conn.dialect)
    if conn.dialect.name == "postgresql":
        if len(values) > FEW:
            _copy(conn, f"COPY {where} FROM STDIN", values)
            return
        mark = "%s"
    else:
        mark = "?"
    marks = ", ".join([mark] * len(names))
    driven_many(conn, f"INSERT INTO {where} VALUES ({marks})", values)


@lru_cache(maxsize=200)
def _written(of: Table, names: tuple[str, ...], dialect: Dialect) -> tuple[str, _Binds]:
    """The table with its columns, and what makes the driver's values of ours."""
    found = [_bind(of.c[name].type, dialect) for name in names]
    quoted = ", ".join(dialect.identifier_preparer.quote(name) for name in names)
    table = f"{dialect.identifier_preparer.quote(of.name)} ({quoted})"
    return table, tuple((n, bind) for n, bind in enumerate(found) if bind is not None)


def _bind(kind: TypeEngine[Any], dialect: Dialect) -> Callable[[Any], Any] | None:
    if isinstance(kind, Boolean):
        # As the type does it where there are no truths, in a third of the time.
        return None if dialect.supports_native_boolean else _AS_NUMBER.__getitem__
    return kind.dialect_impl(dialect).bind_processor(dialect)


_AS_NUMBER = {None: None, False: 0, True: 1}


def _bound(row: dict[str, Any], binds: _Binds) -> tuple[Any, ...]:
    values = list(row.values())
    for place, bind in binds:
        values[place] = bind(values[place])
    return tuple(values)


def _copy(conn: Connection, statement: str, values: Sequence[tuple[Any, ...]]) -> None:
    driver: Any = conn.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(statement) as copy:
        for row in values:
            copy.write_row(row)
