"""What a single value on the wire may be: one plain converter for each sort of field.

A converter takes the value as JSON gave it and returns it as the fact keeps it; it raises
ValueError for all that may not be. Each stands beside the words that say what was expected.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, NamedTuple

import msgspec

SAFE_INTEGER = 2**53 - 1
"""The largest whole number that every JSON reader keeps exact (RFC 8259, section 6)."""

LARGEST_INTEGER = 2**63 - 1
LONGEST_LABEL = 60
LONGEST_TEXT = 10_000
DEEPEST_LINE = 6

Convert = Callable[[Any], Any]

_quoted = msgspec.json.Encoder().encode


class Sort(NamedTuple):
    """A converter, and what it expects in words."""

    convert: Convert
    expected: str


_UUID = re.compile(
    r"[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", re.ASCII
).fullmatch
_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII).fullmatch
_BIG_DIGITS = re.compile(r"[1-9][0-9]{15,18}", re.ASCII).fullmatch
_RFC3339 = re.compile(
    r"(?:19[7-9][0-9]|2[01][0-9]{2})-[0-9]{2}-[0-9]{2}"
    r"[Tt](?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9](?:\.[0-9]{1,6})?"
    r"(?:[Zz]|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])",
    re.ASCII,
).fullmatch
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def _label(value: Any) -> str:
    if type(value) is not str or not 0 < len(value) <= LONGEST_LABEL or value != value.strip():
        raise ValueError
    if not value.isprintable() and any(
        unicodedata.category(c) in _UNSEEN or (c.isspace() and c != " ") for c in value
    ):
        raise ValueError
    return value


def is_clean(value: str) -> bool:
    """Whether a text has no control characters but tab and line breaks, and no half characters."""
    return value.isprintable() or not any(
        c not in "\t\n\r" and unicodedata.category(c) in ("Cc", "Cs") for c in value
    )


def _text(value: Any) -> str:
    if type(value) is not str or not 0 < len(value) <= LONGEST_TEXT:
        raise ValueError
    if value.isspace() or not is_clean(value):
        raise ValueError
    return value


def _uuid(value: Any) -> str:
    if type(value) is str:
        if _UUID(value):
            return value
        lowered = value.lower()
        if _UUID(lowered):
            return lowered
    raise ValueError


def _sha256(value: Any) -> str:
    if type(value) is not str or not _SHA256(value):
        raise ValueError
    return value


def _boolean(value: Any) -> bool:
    if value is True or value is False:
        return bool(value)
    raise ValueError


def read_time(value: Any) -> datetime:
    """An RFC 3339 time with its offset, as an aware datetime in UTC; ValueError otherwise."""
    if type(value) is not str or not _RFC3339(value):
        raise ValueError
    at = datetime.fromisoformat(value.upper()).astimezone(UTC)
    if not _FIRST <= at <= _LAST:
        raise ValueError
    return at


def write_time(at: datetime) -> str:
    """An aware datetime as RFC 3339 has it, in UTC and with its offset: as isoformat does."""
    utc = at if at.tzinfo is UTC else at.astimezone(UTC)
    # A quarter of the time of isoformat, which asks the zone.
    return f"{_quoted(utc)[1:-2].decode()}+00:00"


# The years that the pattern takes, in whatever offset they are said.
_FIRST = datetime(1970, 1, 1, tzinfo=UTC)
_LAST = datetime(2199, 12, 31, 23, 59, 59, 999_999, tzinfo=UTC)


LABEL = Sort(
    _label, f"1 to {LONGEST_LABEL} printable characters on one line, no blanks at the ends"
)
TEXT = Sort(_text, f"text of 1 to {LONGEST_TEXT:,} characters, no control characters")
UUID = Sort(_uuid, "a UUID of RFC 9562, such as 0190b5d4-7c3a-7c1e-8f00-3a5b6c7d8e9f")
SHA256 = Sort(_sha256, "a SHA-256 in 64 lower-case hexadecimal digits")
BOOLEAN = Sort(_boolean, "true or false")
TIME = Sort(read_time, "a time with its offset, such as 2026-03-02T14:05:00+02:00 (RFC 3339)")


def whole(low: int = 0, high: int = LARGEST_INTEGER) -> Sort:
    """A whole number within limits; beyond 2**53 - 1 a string of its digits."""

    def convert(value: Any) -> int:
        if type(value) is int:
            if low <= value <= high and value <= SAFE_INTEGER:
                return value
        elif type(value) is str and _BIG_DIGITS(value):
            number = int(value)
            if SAFE_INTEGER < number <= high:
                return number
        raise ValueError

    if high <= SAFE_INTEGER:
        return Sort(convert, f"a whole number from {low} to {high}")
    return Sort(
        convert,
        f"a whole number of {low} or more (beyond {SAFE_INTEGER} as a string of digits)",
    )


def number(low: float, high: float, *, above: bool = False) -> Sort:
    """A finite number within limits; above: the lower limit itself is not allowed."""

    def convert(value: Any) -> float:
        if type(value) not in (int, float) or not low <= value <= high:
            raise ValueError
        if above and value == low:
            raise ValueError
        return float(value)

    return Sort(convert, f"a number {'above' if above else 'from'} {low:,g} up to {high:,g}")


def choice(words: tuple[str, ...]) -> Sort:
    """One of a few words."""
    allowed = frozenset(words)

    def convert(value: Any) -> str:
        if type(value) is not str or value not in allowed:
            raise ValueError
        return value

    return Sort(convert, f"one of {', '.join(words)}")


def strings(of: Sort) -> Sort:
    """A list of strings."""

    def convert(value: Any) -> tuple[str, ...]:
        if type(value) is not list:
            raise ValueError
        return tuple(map(of.convert, value))

    return Sort(convert, f"a list, each item {of.expected}")


def _lines(value: Any) -> tuple[dict[str, Any], ...]:
    if type(value) is not list:
        raise ValueError
    for line in value:
        if type(line) is not dict:
            raise ValueError
        _label(line.get("card"))
        _label(line.get("camera"))
        _plain(line, DEEPEST_LINE)
    return tuple(value)


def _plain(value: Any, depth: int) -> None:
    """Refuse what would not come back from JSON as it went."""
    if depth == 0:
        raise ValueError
    if type(value) is dict:
        for key, item in value.items():
            _label(key)
            _plain(item, depth - 1)
    elif type(value) is list:
        for item in value:
            _plain(item, depth - 1)
    elif type(value) is str:
        if len(value) > LONGEST_TEXT or not is_clean(value):
            raise ValueError
    elif type(value) is float:
        if not math.isfinite(value):
            raise ValueError
    elif type(value) is int:
        if abs(value) > SAFE_INTEGER:
            raise ValueError
    elif value is not None and type(value) is not bool:
        raise ValueError


LINES = Sort(_lines, "a list of objects, each with at least a card and a camera")
