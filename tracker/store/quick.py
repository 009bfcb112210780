"""Fixed statements past the layers that cost more than the database does.

A statement is compiled once for each kind of database; from then on it goes straight to the
driver, in the transaction of the connection that it is given. Values go in and come out by the
types of the columns, as everywhere. Measured: 2 us for a statement that costs 20 to 65 us else.
"""

from __future__ import annotations

from collections import namedtuple
from collections.abc import Callable, Sequence
from operator import itemgetter
from typing import Any

from sqlalchemy import ARRAY, JSON, BindParameter, Connection, Dialect, Text, bindparam
from sqlalchemy.exc import DBAPIError
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.expression import ColumnElement, Executable
from sqlalchemy.types import TypeDecorator, TypeEngine

_Convert = Callable[[Any], Any]
_Converts = tuple[tuple[int, _Convert], ...]


class Quick:
    """A statement of which nothing changes but the values that it names."""

    def __init__(self, statement: Executable) -> None:
        self._statement = statement
        self._ready: dict[str, _Ready] = {}

    def all(self, conn: Connection, **values: Any) -> list[Any]:
        """Its rows, as named tuples."""
        ready = self._for(conn)
        found = _driven(conn, ready.sql, ready.given(values)).fetchall()
        return ready.read(found)

    def first(self, conn: Connection, **values: Any) -> Any:
        """Its first row, as a named tuple; None if there is none."""
        ready = self._for(conn)
        row = _driven(conn, ready.sql, ready.given(values)).fetchone()
        return None if row is None else ready.read([row])[0]

    def scalar(self, conn: Connection, **values: Any) -> Any:
        """The first value of its first row; None if there is none."""
        row = self.first(conn, **values)
        return None if row is None else row[0]

    def run(self, conn: Connection, **values: Any) -> int:
        """Do it; how many rows it was done to."""
        ready = self._for(conn)
        return int(_driven(conn, ready.sql, ready.given(values)).rowcount)

    def _for(self, conn: Connection) -> _Ready:
        name = conn.dialect.name
        ready = self._ready.get(name)
        if ready is None:
            ready = self._ready[name] = _Ready(self._statement, conn.dialect)
        return ready


class _Ready:
    """A statement as one kind of database takes it."""

    def __init__(self, statement: Executable, dialect: Dialect) -> None:
        compiled: Any = statement.compile(dialect=dialect)  # type: ignore[attr-defined]
        self.sql: str = compiled.string
        fixed = {name: value for name, value in compiled.params.items() if value is not None}
        self._fixed = fixed
        # Its own list of binds has some of them under a second, internal name.
        names = list(compiled.positiontup or compiled.params)
        binds = [_bind(compiled.binds[name].type, dialect) for name in names]
        self._binds = [(name, bind) for name, bind in zip(names, binds, strict=True) if bind]
        self._pick: _Convert = _picked(names) if compiled.positional else dict
        columns = list(getattr(statement, "selected_columns", ()))
        reads = [(n, _result(column.type, dialect)) for n, column in enumerate(columns)]
        self._reads: _Converts = tuple((n, read) for n, read in reads if read is not None)
        self._row: Any = namedtuple("Row", [c.key for c in columns], rename=True)  # type: ignore[misc]

    def given(self, values: dict[str, Any]) -> Any:
        """The values as the driver takes them."""
        values = {**self._fixed, **values}
        for name, bind in self._binds:
            values[name] = bind(values[name])
        return self._pick(values)

    def read(self, rows: Sequence[Sequence[Any]]) -> list[Any]:
        """The driver's rows as named tuples."""
        if not self._reads:
            return list(map(self._row._make, rows))
        made = []
        for row in rows:
            values = list(row)
            for place, read in self._reads:
                values[place] = read(values[place])
            made.append(self._row._make(values))
        return made


def _picked(names: Sequence[str]) -> _Convert:
    if len(names) > 1:
        return itemgetter(*names)
    return lambda values: tuple(values[name] for name in names)


def _bind(kind: TypeEngine[Any], dialect: Dialect) -> _Convert | None:
    return kind.dialect_impl(dialect).bind_processor(dialect)


def _result(kind: TypeEngine[Any], dialect: Dialect) -> _Convert | None:
    return kind.dialect_impl(dialect).result_processor(dialect, None)


def driven_many(conn: Connection, sql: str, rows: Sequence[Any]) -> None:
    """The same statement for many rows of values, each as the driver takes it."""
    _driven(conn, sql, rows, many=True)


def _driven(conn: Connection, sql: str, values: Any, *, many: bool = False) -> Any:
    driver: Any = conn.connection.driver_connection
    cursor = driver.cursor()
    try:
        return (cursor.executemany if many else cursor.execute)(sql, values) or cursor
    except Exception as error:
        base = conn.dialect.loaded_dbapi.Error
        # Whoever catches the library's errors catches these.
        raise DBAPIError.instance(sql, None, error, base, dialect=conn.dialect) from error


# One of several values, as one value


class _Texts(TypeDecorator[list[str]]):
    impl = JSON
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(ARRAY(Text()) if dialect.name == "postgresql" else JSON())


class Among(ColumnElement[bool]):
    """Whether a column is one of the texts that a value names: a list, and one statement for all.

    An ordinary IN is another statement for every length of its list.
    """

    inherit_cache = False

    def __init__(self, column: Any, name: str) -> None:
        self.column = column
        self.texts: BindParameter[list[str]] = bindparam(name, type_=_Texts())


@compiles(Among)
def _among(among: Among, compiler: Any, **more: Any) -> str:
    column, texts = (compiler.process(part, **more) for part in (among.column, among.texts))
    if compiler.dialect.name == "postgresql":
        return f"{column} = ANY({texts})"
    return f"{column} IN (SELECT value FROM json_each({texts}))"
