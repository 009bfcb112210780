"""What a file says, line by line, on its way to facts: rows and faults, every fault kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from tracker.domain.facts import Fact, Source
from tracker.wire.codec import decode
from tracker.wire.faults import BadInput, Fault

Take = Callable[[dict[str, Any]], Fact]
"""How an object becomes a fact, such as `decode_envelope` or what `stamped` gives."""


class Unread(str):
    """A cell that could not be read: no converter takes it, and it says what was expected."""

    expected: str

    def __new__(cls, cell: str, expected: str) -> Unread:
        """A cell as it was found."""
        unread = super().__new__(cls, cell)
        unread.expected = expected
        return unread


@dataclass(slots=True)
class Rows:
    """The objects of one file, with their lines counted from 1, and what was wrong with the rest.

    columns: the file's own words for the fields, where it has any. expects: what its cells should
    hold, where that is not said as the wire says it.
    """

    name: str
    rows: list[tuple[int, dict[str, Any]]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    columns: dict[str, str] = field(default_factory=dict)
    expects: dict[str, str] = field(default_factory=dict)

    def fault(self, line: int | None, column: str | None, found: str, expected: str) -> None:
        """Note one thing that cannot be taken."""
        self.faults.append(Fault(self.name, line, column, found, expected))

    def take(self, line: int, obj: dict[str, Any], take: Take) -> Fact | None:
        """The fact of one row, or None after noting its faults."""
        try:
            return take(obj)
        except BadInput as error:
            self.faults += [self._placed(fault, line, obj) for fault in error.faults]
            return None

    def _placed(self, fault: Fault, line: int, obj: dict[str, Any]) -> Fault:
        """The fault of a field, with its file, its line, and the file's word for the field."""
        word = fault.field or ""
        value = obj.get(word)
        usual = self.expects.get(word, fault.expected)
        expected = value.expected if isinstance(value, Unread) else usual
        column = self.columns.get(word, fault.field)
        return replace(fault, file=self.name, line=line, field=column, expected=expected)


def stamped(first: datetime, origin: str, source: Source) -> Take:
    """Take facts with these words of the service, each logged a microsecond after the last."""
    taken = 0

    def take(obj: dict[str, Any]) -> Fact:
        nonlocal taken
        logged_at = first + timedelta(microseconds=taken)
        fact = decode(obj, logged_at=logged_at, origin=origin, source=source)
        taken += 1
        return fact

    return take


def facts_of(read: Rows, take: Take) -> list[Fact]:
    """All the facts of a file; BadInput with all its faults where there is any."""
    facts = [read.take(line, obj, take) for line, obj in read.rows]
    refuse(read.faults)
    return [fact for fact in facts if fact is not None]


def refuse(faults: Iterable[Fault]) -> None:
    """Raise BadInput with these faults, by line within each file, where there are any."""
    order: dict[str, int] = {}
    found = list(faults)
    for fault in found:
        order.setdefault(fault.file, len(order))
    if found:
        raise BadInput(sorted(found, key=lambda fault: (order[fault.file], fault.line or 0)))
