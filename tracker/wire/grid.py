"""Tables as spreadsheets save them: cells by line, whatever the delimiter and the encoding."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field

from tracker.wire.faults import printable, shown
from tracker.wire.rows import Rows

_ENCODINGS = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
    (b"", "utf-8", "UTF-8"),
)
_SAVE_AGAIN = "UTF-8 text: save the table again as CSV in UTF-8"
_DELIMITERS = ",;\t"


@dataclass(slots=True)
class Grid:
    """The header's cells, and those of each row that is not empty, with their lines."""

    header_line: int = 1
    header: list[str] = field(default_factory=list)
    rows: list[tuple[int, list[str]]] = field(default_factory=list)


def read_grid(data: bytes | str, read: Rows) -> Grid:
    """The cells of a table; what is wrong with it is noted in `read`, never raised."""
    text = data if isinstance(data, str) else _decode(data, read)
    grid = Grid()
    if text is None:
        return grid
    for line, cells in _rows(text.removeprefix("\ufeff"), read):
        if not any(cells):
            continue
        if grid.header:
            grid.rows.append((line, _fitting(line, cells, grid, read)))
        else:
            grid.header_line, grid.header = line, _header(line, cells, read)
    if not grid.header and not read.faults:
        read.fault(1, None, "an empty file", "a first line that names the columns")
    _refuse_unnamed(grid, read)
    return grid


def _decode(data: bytes, read: Rows) -> str | None:
    encoding, called = next(row[1:] for row in _ENCODINGS if data.startswith(row[0]))
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"bytes that are not {called}"
        read.fault(line, None, found, _SAVE_AGAIN)
        return None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        read.fault(line, None, "a character of value zero", _SAVE_AGAIN)
        return None
    return text


def _rows(text: str, read: Rows) -> Iterator[tuple[int, list[str]]]:
    """Each row with the line it begins on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    line = 1
    try:
        for cells in reader:
            yield line, cells
            line = reader.line_num + 1
    except csv.Error as error:
        read.fault(line, None, f"a row that cannot be cut into cells ({error})", "CSV (RFC 4180)")


def _delimiter(text: str) -> str:
    """The delimiter that cuts the first line into most cells; a comma where none does."""
    first = next((line for line in io.StringIO(text[:100_000], newline="") if line.strip()), "")
    outside = "".join(first.split('"')[::2])
    return max(_DELIMITERS, key=outside.count)


def _header(line: int, cells: list[str], read: Rows) -> list[str]:
    names = [cell.strip() for cell in cells]
    for name in sorted({name for name in names if name and names.count(name) > 1}):
        read.fault(line, printable(name), "the column twice", "each column once")
    return names


def _fitting(line: int, cells: list[str], grid: Grid, read: Rows) -> list[str]:
    """The cells under the header; a cell beyond it that says anything is a fault."""
    width = len(grid.header)
    if any(cells[width:]):
        extra = next(cell for cell in cells[width:] if cell)
        read.fault(
            line, None, f"{shown(extra)} beyond the last column", f"{width} cells as in the header"
        )
    return cells[:width]


def _refuse_unnamed(grid: Grid, read: Rows) -> None:
    for place, name in enumerate(grid.header):
        if name:
            continue
        for line, cells in grid.rows:
            if place < len(cells) and cells[place].strip():
                found = f"{shown(cells[place])} in column {place + 1}, which has no name"
                read.fault(line, None, found, "a name for the column in the first line")
