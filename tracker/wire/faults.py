"""What is wrong with what was sent: every fault, with its place, and one error that carries all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from typing import Any

from tracker.domain.errors import CardwrightError

_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that cannot be taken.

    file: the name that the reader gave ("" for a body that came alone). line: counted from 1.
    field: the field or column. found and expected complete "found ..., expected ...".
    """

    file: str
    line: int | None
    field: str | None
    found: str
    expected: str

    @property
    def message(self) -> str:
        """The fault in one sentence."""
        where = [self.file] if self.file else []
        where += [f"line {self.line}"] if self.line is not None else []
        where += [self.field] if self.field is not None else []
        place = f"{', '.join(where)}: " if where else ""
        return f"{place}found {self.found}, expected {self.expected}."


class BadInput(CardwrightError):
    """What was sent cannot be taken, and nothing of it was.

    faults: all of them, in the order of the input.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(fault.message for fault in self.faults))


def shown(value: Any) -> str:
    """A value that was found, as a person may read it: short, and printable anywhere."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        short = repr(str(value[:_SHOWN]))
        return short if len(value) <= _SHOWN else f"{short}… ({len(value):,} characters)"
    if isinstance(value, int) and value.bit_length() > 128:
        return "a number of more than 38 digits"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, list) and not any(isinstance(item, list | dict) for item in value[:5]):
        return f"[{', '.join([*map(shown, value[:5]), *(['…'] if len(value) > 5 else [])])}]"
    if isinstance(value, list):
        return "a list of lists or objects"
    return "an object" if isinstance(value, dict) else "a value that JSON has not"


def printable(name: str) -> str:
    """A name that was found (of a field, a column, a file), short and printable anywhere."""
    short = name if len(name) <= _SHOWN else name[:_SHOWN] + "…"
    return short if short.isprintable() and short else repr(short)


@lru_cache(maxsize=4096)
def nearest(word: str, known: tuple[str, ...]) -> str:
    """A hint at the known word that looks most like this one, or ""."""
    close = get_close_matches(word.lower(), known, n=1) if len(word) <= _SHOWN else []
    return f"; the nearest is {close[0]}" if close else ""
