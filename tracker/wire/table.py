"""Facts as CSV: a column for each field, the words those of the wire, an empty cell for none.

Booleans are true and false. A list is separated by semicolons; where an item would not come back
so, and for lists of objects, the cell is a JSON list. A text that a spreadsheet would take for a
formula is written with an apostrophe before it, and exactly that is undone on reading.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterable
from typing import Any

from tracker.domain.facts import Fact
from tracker.wire.codec import encode
from tracker.wire.faults import nearest, printable
from tracker.wire.fields import SHAPES
from tracker.wire.grid import Grid, read_grid
from tracker.wire.jsonlines import parse_json
from tracker.wire.rows import Rows, Take, facts_of
from tracker.wire.values import SAFE_INTEGER

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_WHOLE = re.compile(r"-?(?:0|[1-9][0-9]{0,18})", re.ASCII)
_NUMBER = re.compile(
    r"-?(?:0|[1-9][0-9]{0,29})(?:\.[0-9]{1,30})?(?:[eE][+-]?[0-9]{1,3})?", re.ASCII
)


def _whole(cell: str) -> Any:
    if _WHOLE.fullmatch(cell) and abs(int(cell)) <= SAFE_INTEGER:
        return int(cell)
    return cell


def _number(cell: str) -> Any:
    return float(cell) if _NUMBER.fullmatch(cell) else cell


def _boolean(cell: str) -> Any:
    return {"true": True, "false": False}.get(cell.lower(), cell)


def _text(cell: str) -> Any:
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def _list(cell: str) -> Any:
    if not cell.startswith("["):
        return [item.strip() for item in _text(cell).split(";")]
    try:
        return parse_json(cell)
    except ValueError:
        return cell


_READERS: dict[Any, Callable[[str], Any]] = {int: _whole, float: _number, bool: _boolean}


def _columns() -> dict[str, Callable[[str], Any]]:
    """Every column there is, in the order of writing, and how its cells are read."""
    columns: dict[str, Callable[[str], Any]] = dict.fromkeys(
        ("id", "event", "card", "drive", "unit", "occurred_at", "sent_at"), _text
    )
    for shape in SHAPES.values():
        for field in shape.fields:
            is_list = getattr(field.kind, "__origin__", None) is tuple
            columns[field.word] = _list if is_list else _READERS.get(field.kind, _text)
    return columns


COLUMNS = _columns()


def read_csv_lines(data: bytes | str, name: str) -> Rows:
    """The object of each row, with the line it begins on, and every fault. Never raises."""
    read = Rows(name)
    grid = read_grid(data, read)
    for column in grid.header:
        if column and column not in COLUMNS:
            hint = nearest(column, tuple(COLUMNS))
            read.fault(
                grid.header_line, printable(column), "an unknown column", f"a field of a fact{hint}"
            )
    for line, cells in grid.rows:
        _take_row(line, cells, grid, read)
    return read


def _take_row(line: int, cells: list[str], grid: Grid, read: Rows) -> None:
    if len(cells) < len(grid.header):
        expected = f"{len(grid.header)} cells as in the header"
        read.fault(line, None, f"{len(cells)} cells", expected)
        return
    pairs = zip(grid.header, cells, strict=True)
    obj = {name: COLUMNS[name](cell) for name, cell in pairs if cell and name in COLUMNS}
    read.rows.append((line, obj))


def read_csv_facts(data: bytes | str, name: str, take: Take) -> list[Fact]:
    """The facts of a table; BadInput with every fault of every line."""
    return facts_of(read_csv_lines(data, name), take)


def write_csv_facts(facts: Iterable[Fact], *, envelope: bool = False) -> str:
    """Facts as a table in CSV (RFC 4180); reading it gives the same facts.

    envelope: with what the service added, to be read with `decode_envelope`.
    """
    objects = [encode(fact, envelope=envelope) for fact in facts]
    used = {word for obj in objects for word in obj} | {"id", "event", "occurred_at"}
    header = [word for word in COLUMNS if word in used]
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(header)
    writer.writerows([_cell(obj.get(word)) for word in header] for obj in objects)
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if type(value) is bool:
        return "true" if value else "false"
    if type(value) is list:
        return _list_cell(value)
    return safe_text(value) if type(value) is str else str(value)


def _list_cell(items: list[Any]) -> str:
    joined = ";".join(items) if all(type(item) is str for item in items) else ""
    if joined and not joined.startswith("[") and _list(safe_text(joined)) == items:
        return safe_text(joined)
    return json.dumps(items, ensure_ascii=False, allow_nan=False)


def safe_text(text: str) -> str:
    """A text that no spreadsheet takes for a formula: an apostrophe goes before = + - @."""
    return "'" + text if _FORMULA.match(text) else text
