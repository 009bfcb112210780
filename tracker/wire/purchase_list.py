"""A crew's list of purchases, as CSV or XLSX, and the words of a form: read by the same rules.

A list that was written here comes back as it was. Amounts stay texts until their currency is
known, and are never floats here.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, get_args

from tracker.domain.money import PLACES, NotMoney, parse_money, plain_money
from tracker.domain.purchases import Purchase, PurchaseKind, Terms
from tracker.domain.sizes import NotASize, is_bare, parse_bytes
from tracker.wire.columns import split_unit, squash
from tracker.wire.faults import nearest, printable, shown
from tracker.wire.grid import Grid, read_grid
from tracker.wire.rows import Rows, refuse
from tracker.wire.table import safe_text
from tracker.wire.workbook import is_workbook, sheet_as_csv

NAMES: dict[str, tuple[str, ...]] = {
    "order": ("order", "order number", "order no", "PO", "purchase order"),
    "item": ("item", "what", "description", "product"),
    "kind": ("kind", "type"),
    "terms": ("bought or rented", "terms"),
    "vendor": ("vendor", "supplier", "seller", "rental house"),
    "quantity": ("quantity", "qty", "pieces", "number"),
    "unit_price": ("price each", "unit price", "price"),
    "currency": ("currency",),
    "capacity_bytes": ("capacity each", "capacity", "size", "size each"),
    "media": ("media", "media type"),
    "ordered": ("ordered", "ordered on", "order date"),
    "due": ("due", "due on", "expected"),
    "delivered": ("delivered", "delivered on", "received"),
    "warranty_until": ("warranty until", "warranty"),
    "return_by": ("give back by", "return by", "back by"),
    "lost_charge": ("charge if lost", "lost charge"),
}
"""What the columns may be called; the first is ours."""

NEEDED = ("order", "item", "kind", "terms", "vendor", "quantity", "unit_price", "currency",
          "ordered")  # fmt: skip

MOST_PIECES = 100_000
LONGEST = 200
SMALLEST_CAPACITY, LARGEST_CAPACITY = 10**6, 10**15

_DAY = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})(?:[T ]00:00(?::00)?)?", re.ASCII)

Words = Mapping[str, str]
Tell = Callable[[str, str, str], None]
"""Takes a field, what was found, and what was expected."""


@dataclass(frozen=True, slots=True)
class Listed:
    """A purchase of a list, with its line. delivered: when all of it came, if it did."""

    line: int
    purchase: Purchase
    delivered: date | None = None


# Reading


def read_purchases(data: bytes, name: str) -> list[Listed]:
    """The purchases of a list. Errors: BadInput with every fault of every line."""
    read = Rows(name)
    # A workbook is read as the CSV of its first sheet.
    grid = read_grid(sheet_as_csv(data, name) if is_workbook(name) else data, read)
    found = _columns(grid, read)
    listed = []
    if grid.header and not _lacks(grid, read):
        listed = [one for line, cells in grid.rows if (one := _row(found, line, cells, read))]
    _each_once(listed, read)
    refuse(read.faults)
    return listed


def _columns(grid: Grid, read: Rows) -> list[tuple[str, str | None] | None]:
    """The field of each column and the unit in its header; None for one that is not known."""
    known = {squash(name): field for field, names in NAMES.items() for name in names}
    found: list[tuple[str, str | None] | None] = []
    for header in grid.header:
        name, unit = (squash(header), None) if squash(header) in known else split_unit(header)
        field = known.get(name)
        found.append(None)
        if field is None or (unit and field != "capacity_bytes"):
            if header:
                expected = f"a column known here{nearest(name, tuple(known))}"
                read.fault(grid.header_line, printable(header), "an unknown column", expected)
        elif field in read.columns:
            said = f"a second column for the same as {read.columns[field]}"
            read.fault(grid.header_line, printable(header), said, "one column for each thing")
        else:
            read.columns[field] = printable(header)
            found[-1] = field, unit
    return found


def _lacks(grid: Grid, read: Rows) -> bool:
    missing = [field for field in NEEDED if field not in read.columns]
    for field in missing:
        expected = f"one called {' or '.join(NAMES[field][:2])}"
        read.fault(grid.header_line, None, f"no column for the {NAMES[field][0]}", expected)
    return bool(missing)


def _row(
    found: list[tuple[str, str | None] | None], line: int, cells: list[str], read: Rows
) -> Listed | None:
    words: dict[str, str] = {}
    for way, cell in zip(found, cells, strict=False):
        said = clean(_meant(cell))
        if way is not None and said:
            field, unit = way
            words[field] = f"{said} {unit}" if unit and is_bare(said) else said

    def tell(field: str, what: str, expected: str) -> None:
        read.fault(line, read.columns.get(field, NAMES[field][0]), what, expected)

    purchase, delivered = read_words(words, tell)
    return None if purchase is None else Listed(line, purchase, delivered)


def _meant(cell: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet from taking it for a formula."""
    return cell[1:] if cell.startswith("'") and safe_text(cell[1:]) == cell else cell


def clean(text: str) -> str:
    """A text of one line, with single spaces."""
    return " ".join(text.split())


def _each_once(listed: list[Listed], read: Rows) -> None:
    lines: dict[tuple[str, str], int] = {}
    for one in listed:
        key = one.purchase.order, one.purchase.item
        if key in lines:
            found = f"{shown(key[1])} of order {shown(key[0])}, which stands on line {lines[key]}"
            read.fault(one.line, read.columns["item"], f"{found} too", "each item of an order once")
        lines.setdefault(key, one.line)


def read_words(words: Words, tell: Tell) -> tuple[Purchase | None, date | None]:
    """A purchase from what was written, and when it was delivered; None after telling each fault.

    words: by field, what is empty left out; see NAMES.
    """
    told: list[str] = []

    def fault(field: str, found: str, expected: str) -> None:
        told.append(field)
        tell(field, found, expected)

    read: dict[str, Any] = {}
    for field in NAMES:
        said = words.get(field)
        if said is None:
            if field in NEEDED:
                fault(field, "nothing", EXPECTED[field])
            continue
        value = _READERS[field](said)
        if value is None and field not in _MONEY:
            fault(field, shown(said), EXPECTED[field])
        read[field] = value
    _read_money(words, read, fault)
    if not told:
        _tell_senseless(read, words, fault)
    delivered = read.pop("delivered", None)
    return (None, None) if told else (Purchase(**read), delivered)


def _read_money(words: Words, read: dict[str, Any], fault: Tell) -> None:
    currency = read.get("currency")
    for field in _MONEY:
        if field in words and currency:
            try:
                read[field] = parse_money(words[field], currency)
            except NotMoney as error:
                fault(field, shown(words[field]), error.expected)


def _tell_senseless(read: dict[str, Any], words: Words, fault: Tell) -> None:
    """Days that come before the order; drives of no kind that there is."""
    for field in ("due", "delivered", "warranty_until", "return_by"):
        day = read.get(field)
        if day is not None and day < read["ordered"]:
            fault(
                field, shown(words[field]), f"a day not before it was ordered, {words['ordered']}"
            )
    if read["kind"] == "drives" and read.get("media") not in (None, *DRIVE_KINDS):
        fault("media", shown(words["media"]), f"for drives one of: {', '.join(DRIVE_KINDS)}")


DRIVE_KINDS = ("ssd", "hdd", "raid", "tape", "other")


def read_day(said: str) -> date | None:
    """A day as 2026-03-02; None for anything else."""
    match = _DAY.fullmatch(said)
    try:
        day = date.fromisoformat(match[1]) if match else None
    except ValueError:
        return None
    return day if day is not None and 1970 <= day.year <= 2200 else None


def _text(said: str) -> str | None:
    return said if len(said) <= LONGEST and said.isprintable() else None


def _count(said: str) -> int | None:
    number = int(said) if re.fullmatch(r"[0-9]{1,6}", said, re.ASCII) else 0
    return number if 1 <= number <= MOST_PIECES else None


def _size(said: str) -> int | None:
    try:
        size = parse_bytes(said)
    except NotASize:
        return None
    return size if SMALLEST_CAPACITY <= size <= LARGEST_CAPACITY else None


def _one_of(words: tuple[str, ...], **spellings: str) -> Callable[[str], str | None]:
    known = {squash(word): word for word in words}
    known |= {said: word for word, several in spellings.items() for said in several.split()}
    return lambda said: known.get(squash(said))


def _currency(said: str) -> str | None:
    return said.upper() if said.upper() in PLACES else None


_MONEY = ("unit_price", "lost_charge")
_READERS: dict[str, Callable[[str], Any]] = {
    **dict.fromkeys(("order", "item", "vendor", "media"), _text),
    **dict.fromkeys(("ordered", "due", "delivered", "warranty_until", "return_by"), read_day),
    **dict.fromkeys(_MONEY, lambda _: None),
    "kind": _one_of(get_args(PurchaseKind), drives="drive", cards="card"),
    "terms": _one_of(get_args(Terms), bought="buy purchase", rented="rent rental hired hire"),
    "quantity": _count,
    "currency": _currency,
    "capacity_bytes": _size,
}
_A_DAY = "a day, as 2026-03-02"
_SOME_WORDS = f"some words on one line, at most {LONGEST} characters"
EXPECTED: dict[str, str] = {
    **dict.fromkeys(("order", "item", "vendor", "media"), _SOME_WORDS),
    **dict.fromkeys(("ordered", "due", "delivered", "warranty_until", "return_by"), _A_DAY),
    **dict.fromkeys(_MONEY, "an amount such as 1234.50, without its currency"),
    "kind": "drives, cards or other",
    "terms": "bought or rented",
    "quantity": f"a whole number from 1 to {MOST_PIECES:,}",
    "currency": "a currency by its three letters (ISO 4217), such as EUR",
    "capacity_bytes": "the size of one piece with its unit, from 1 MB to 1,000 TB, as 1.92 TB",
}
"""What a field should hold, in words."""


# Writing


def words_of(one: Listed) -> dict[str, str]:
    """A purchase as a form holds it, by field."""
    cells = dict(zip(NAMES, _cells(one), strict=True))
    said = {field: _in_csv(cell) for field, cell in cells.items()}
    texts = ("order", "item", "vendor", "media")
    said |= {field: getattr(one.purchase, field) or "" for field in texts}
    if said["capacity_bytes"]:
        said["capacity_bytes"] += " GB"
    return said


_HEADER = {field: names[0] for field, names in NAMES.items()} | {
    "capacity_bytes": "capacity each (GB)"
}


def _cells(one: Listed) -> list[str | int | Decimal | date | None]:
    bought = one.purchase
    cells: list[str | int | Decimal | date | None] = []
    for field in NAMES:
        value: Any = one.delivered if field == "delivered" else getattr(bought, field)
        if value is not None and field in _MONEY:
            value = Decimal(plain_money(value, bought.currency))
        elif value is not None and field == "capacity_bytes":
            value = _short(Decimal(value).scaleb(-9))
        cells.append(safe_text(value) if isinstance(value, str) else value)
    return cells


def _short(number: Decimal) -> Decimal:
    """A number without noughts at its end, and never as a power of ten."""
    return number.quantize(Decimal(1)) if number == number.to_integral() else number.normalize()


def _in_csv(cell: str | int | Decimal | date | None) -> str:
    return f"{cell:f}" if isinstance(cell, Decimal) else "" if cell is None else str(cell)


def write_csv(listed: Iterable[Listed]) -> str:
    """Purchases as CSV (RFC 4180)."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(_HEADER.values())
    for one in listed:
        writer.writerow(map(_in_csv, _cells(one)))
    return out.getvalue()


def write_workbook(listed: Iterable[Listed]) -> bytes:
    """Purchases as a workbook (XLSX), amounts and days such as a spreadsheet counts with."""
    from openpyxl import Workbook  # noqa: PLC0415  (it is slow to import, and rarely needed)

    book = Workbook(write_only=True)
    sheet = book.create_sheet("Purchases")
    sheet.append(list(_HEADER.values()))
    for one in listed:
        sheet.append(_cells(one))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
