"""Where rows differ from what the journal says that they should be: table, key and column.

Values are compared as the driver gives them, so that nothing which was put there by hand can make
the comparison fail.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields
from typing import Any

import msgspec
from sqlalchemy import Connection, LargeBinary, Table, select, type_coerce
from sqlalchemy.types import NullType

from tracker.store import tables as t
from tracker.store.expected import Piece, expected_rows
from tracker.store.rows import Row, table
from tracker.store.states import read_card, read_roll

Key = tuple[Any, ...]
Kept = dict[Key, Row]

OF_CARDS: dict[type[t.Base], str] = {t.Card: "id", t.Roll: "card", t.Mishap: "card", t.Use: "card"}
"""The tables whose rows say which card they are of, and the column that does."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that is not what the journal says.

    column: None where the whole row is missing, or should not be there; kept or expected are None
    then, and otherwise the values as the database has them.
    """

    table: str
    key: Key
    column: str | None
    kept: Any
    expected: Any

    def __str__(self) -> str:
        row = f"{self.table} {', '.join(map(str, self.key))}"
        if self.column is None:
            return f"{row}: {'is missing' if self.kept is None else 'should not be there'}"
        return f"{row}, {self.column}: kept {self.kept!r}, expected {self.expected!r}"


def differences(conn: Connection) -> Iterator[Difference]:
    """Every difference between the rows that are kept and the journal, folded anew."""
    waiting = _Waiting()
    known: set[str] = set()
    for piece in expected_rows(conn):
        known.update(piece.cards or ())
        for of, rows in piece.rows.items():
            expected = _by_key(of, _as_kept(conn, table(of), rows))
            kept = _by_key(of, _rows_kept(conn, of, piece))
            yield from _compare(of, expected, kept, waiting)
    for of, kept in _of_nothing(conn, known):
        waiting.extra.setdefault(of, {}).update(kept)
    yield from waiting.differences()


@dataclass(slots=True)
class _Waiting:
    """Rows without a counterpart so far: a row that was moved to another card has one later."""

    missing: dict[type[t.Base], Kept] = field(default_factory=dict)
    extra: dict[type[t.Base], Kept] = field(default_factory=dict)

    def differences(self) -> Iterator[Difference]:
        for of in {**self.missing, **self.extra}:
            missing, extra = self.missing.get(of, {}), self.extra.get(of, {})
            name = table(of).name
            for key in missing:
                if key in extra:
                    yield from _columns(of, key, extra.pop(key), missing[key])
                else:
                    yield Difference(name, key, None, None, "a row")
            for key in extra:
                yield Difference(name, key, None, "a row", None)


def _compare(
    of: type[t.Base], expected: Kept, kept: Kept, waiting: _Waiting
) -> Iterator[Difference]:
    for key in expected.keys() & kept.keys():
        yield from _columns(of, key, kept.pop(key), expected.pop(key))
    waiting.missing.setdefault(of, {}).update(expected)
    waiting.extra.setdefault(of, {}).update(kept)


def _columns(of: type[t.Base], key: Key, kept: Row, expected: Row) -> Iterator[Difference]:
    name = table(of).name
    for column, value in expected.items():
        there = kept[column]
        if there == value:
            continue
        if column == "state":
            yield from _states(of, key, there, value)
        else:
            yield Difference(name, key, column, there, value)


def _states(of: type[t.Base], key: Key, kept: Any, expected: bytes) -> Iterator[Difference]:
    """What differs in kept states; in which order their parts are written does not matter."""
    name = table(of).name
    right = _state(of, expected)
    try:
        there = _state(of, kept)
    except (msgspec.MsgspecError, ValueError, TypeError, KeyError, RecursionError):
        yield Difference(name, key, "state", "nothing that can be read", "a state")
        return
    for part in fields(right):
        if part.compare and getattr(there, part.name) != getattr(right, part.name):
            said, wanted = getattr(there, part.name), getattr(right, part.name)
            yield Difference(name, key, f"state.{part.name}", said, wanted)


def _state(of: type[t.Base], kept: bytes) -> Any:
    return read_roll(kept) if of is t.Roll else read_card(kept, (), (), _no_roll)


def _no_roll(roll_id: str) -> Any:
    raise KeyError(roll_id)


# Rows as the driver has them


def _as_kept(conn: Connection, of: Table, rows: Iterable[Row]) -> Iterator[Row]:
    # Bytes stay as they are: a driver may wrap them on their way in.
    binds = {
        column.name: column.type.dialect_impl(conn.dialect).bind_processor(conn.dialect)
        for column in of.columns
        if not isinstance(column.type, LargeBinary)
    }
    for row in rows:
        yield {
            name: value if (bind := binds.get(name)) is None else bind(value)
            for name, value in row.items()
        }


def _rows_kept(conn: Connection, of: type[t.Base], piece: Piece) -> Iterator[Row]:
    if piece.cards is None:
        yield from _select(conn, of)
        return
    for start in range(0, len(piece.cards), 500):
        some = piece.cards[start : start + 500]
        if of is t.Copy:
            rolls = select(t.Roll.id).where(t.Roll.card.in_(some))
            yield from _select(conn, of, t.Copy.roll.in_(rolls))
        else:
            yield from _select(conn, of, table(of).c[OF_CARDS[of]].in_(some))


def _select(conn: Connection, of: type[t.Base], *which: Any) -> Iterator[Row]:
    columns = [type_coerce(column, NullType()).label(column.name) for column in table(of).columns]
    for row in conn.execute(select(*columns).where(*which)):
        yield dict(row._mapping)


def _by_key(of: type[t.Base], rows: Iterable[Row]) -> Kept:
    names = [column.name for column in table(of).primary_key.columns]
    return {tuple(row[name] for name in names): row for row in rows}


def _of_nothing(conn: Connection, known: set[str]) -> Iterator[tuple[type[t.Base], Kept]]:
    """Rows of cards that the journal does not know, and copies of no roll."""
    for of, column in OF_CARDS.items():
        named = table(of).c[column]
        strange = sorted(set(conn.scalars(select(named).distinct())) - known)
        yield of, _by_key(of, _rows_kept(conn, of, Piece(strange, {})))
        if of is t.Roll:
            yield t.Copy, _by_key(t.Copy, _rows_kept(conn, t.Copy, Piece(strange, {})))
    there = select(t.Roll.id).where(t.Roll.id == t.Copy.roll).exists()
    yield t.Copy, _by_key(t.Copy, _select(conn, t.Copy, ~there))
