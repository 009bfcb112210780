"""Sizes and rates as people write them, and as every screen shows them.

Prefixes k, M, G, T, P, E are powers of 1000 (IEC 80000-13); Ki, Mi, Gi, Ti, Pi, Ei are powers of
1024. A size is a whole number of bytes, a rate a whole number of bytes per second.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

_POWERS = "kmgtpe"
_NUMBER = re.compile(r"[0-9]{1,30}(?:[.,][0-9]{1,30})?", re.ASCII)
_MAYBE_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}", re.ASCII)
_CELL = re.compile(r"([0-9][0-9.,'\u2019\s]*)(.*)", re.ASCII | re.DOTALL)
_SIZE_UNIT = re.compile(r"(?:([kmgtpe])(i?))?(?:b|bytes?)", re.ASCII | re.IGNORECASE)
_RATE_UNIT = re.compile(
    r"(?:([kmgtpe])(i?))?(b|bytes?|bits?)(?:\s*/\s*(?:s|sec|second)|ps)", re.ASCII | re.IGNORECASE
)
_SHOWN = ("B", "kB", "MB", "GB", "TB", "PB", "EB")

_SIZE_EXPECTED = "a size with its unit, such as 1.92 TB, 480 GB or 931 GiB"
_RATE_EXPECTED = "a rate with its unit, such as 450 MB/s"
_NUMBER_EXPECTED = "a number without thousands marks, such as 1.92 or 1920"


class NotASize(ValueError):
    """A text that is no size or rate: what was found, and what was expected."""

    def __init__(self, found: str, expected: str) -> None:
        self.found = repr(found if len(found) <= 60 else found[:60] + "…")
        self.expected = expected
        super().__init__(f"found {self.found}, expected {expected}")


def parse_bytes(text: str, *, unit: str = "B") -> int:
    """Bytes, from a size such as "1.92 TB"; a bare number is in `unit`.

    A part of a byte is rounded to the nearest byte where the unit is larger than a byte.
    Raises NotASize where the text cannot be read in one way only.
    """
    number, said = _split(text, _SIZE_EXPECTED)
    factor = _size_factor(said or unit, text)
    return _whole(number * factor, text, exact=factor == 1)


def parse_rate(text: str, *, unit: str = "B/s") -> int:
    """Bytes per second, from a rate such as "450 MB/s"; a bare number is in `unit`.

    A small b is a bit (Mb/s, Mbps), a capital B a byte. Raises NotASize as `parse_bytes` does.
    """
    number, said = _split(text, _RATE_EXPECTED)
    factor = _rate_factor(said or unit, text)
    return _whole(number * factor, text, exact=factor <= 1)


def is_bare(text: str) -> bool:
    """Whether a text is a number without a unit."""
    return _NUMBER.fullmatch(text.strip()) is not None


def show_bytes(n: int) -> str:
    """A size for people, in at most four significant digits: "1.92 TB", "500.1 GB"."""
    power = 0
    while power < len(_SHOWN) - 1 and _four_digits(abs(n), power) >= 1000:
        power += 1
    shown = format(_four_digits(abs(n), power), "f")
    if "." in shown:
        shown = shown.rstrip("0").rstrip(".")
    return f"{'-' if n < 0 else ''}{shown} {_SHOWN[power]}"


def show_rate(n: int) -> str:
    """A rate for people: "450 MB/s"."""
    return f"{show_bytes(n)}/s"


def _four_digits(n: int, power: int) -> Decimal:
    scaled = Decimal(n).scaleb(-3 * power)
    places = max(0, 3 - max(scaled.adjusted(), 0))
    return scaled.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)


def _split(text: str, expected: str) -> tuple[Fraction, str]:
    """The number of a text, and its unit as written ("" for none)."""
    cell = _CELL.fullmatch(text.strip())
    if cell is None:
        raise NotASize(text, expected)
    digits, unit = cell[1].rstrip(), cell[2].strip()
    if _NUMBER.fullmatch(digits) is None:
        raise NotASize(text, _NUMBER_EXPECTED)
    if _MAYBE_THOUSANDS.fullmatch(digits):
        point, none = digits.replace(",", "."), digits.replace(",", "")
        raise NotASize(text, f"{point} or {none}: the comma can be read both ways")
    return Fraction(digits.replace(",", ".")), unit


def _size_factor(unit: str, text: str) -> int:
    match = _SIZE_UNIT.fullmatch(unit)
    if match is None:
        raise NotASize(text, _SIZE_EXPECTED)
    if unit.endswith("b") and unit[0] in "KMGTPE":
        raise NotASize(text, f"bytes, with a capital B: {unit[:-1]}B (a small b is a bit)")
    return _power(match[1], match[2])


def _rate_factor(unit: str, text: str) -> Fraction:
    match = _RATE_UNIT.fullmatch(unit)
    if match is None:
        raise NotASize(text, _RATE_EXPECTED)
    word = match[3]
    if word == "b" and match[1] and match[1] != "k" and match[1].islower():
        raise NotASize(text, "MB/s for bytes or Mb/s for bits: small letters can mean both")
    bits = word == "b" or word.lower().startswith("bit")
    return Fraction(_power(match[1], match[2]), 8 if bits else 1)


def _power(letter: str | None, binary: str | None) -> int:
    if not letter:
        return 1
    exponent: int = _POWERS.index(letter.lower()) + 1
    return int((1024 if binary else 1000) ** exponent)


def _whole(value: Fraction, text: str, *, exact: bool) -> int:
    if exact and value.denominator != 1:
        raise NotASize(text, "a whole number of bytes")
    return round(value)
