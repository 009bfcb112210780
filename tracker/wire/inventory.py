"""A crew's own lists of cards, cameras and drives, taken as the facts that register them.

Each id is made from the kind and the label, so that a list read twice gives the same facts.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from tracker.domain.facts import CameraSet, DriveRegistered, Fact, Registered, Source
from tracker.domain.sizes import NotASize
from tracker.wire import columns
from tracker.wire.columns import Column, split_unit, squash
from tracker.wire.faults import nearest, printable
from tracker.wire.fields import SHAPES
from tracker.wire.grid import Grid, read_grid
from tracker.wire.rows import Rows, Unread, facts_of, stamped

_Read = tuple[Column, str | None]
"""A column of a list, and the unit in its header."""

_NAMESPACE = uuid.UUID("6f0e7a52-3c1d-5b84-9f43-b1d2a7c6e805")


@dataclass(frozen=True, slots=True)
class Inventory:
    """One sort of list: the fact of each row, the field of its label, the columns known."""

    fact: type[Fact]
    label: str
    columns: tuple[Column, ...]


CARDS = Inventory(Registered, "card", columns.CARDS)
CAMERAS = Inventory(CameraSet, "letters", columns.CAMERAS)
DRIVES = Inventory(DriveRegistered, "drive", columns.DRIVES)


def read_cards(
    data: bytes,
    name: str,
    *,
    occurred_at: datetime,
    logged_at: datetime,
    origin: str = "files",
    source: Source = "history",
) -> list[Registered]:
    """The cards of a list, each logged a microsecond after the last; BadInput with all faults."""
    read = read_inventory(CARDS, data, name, occurred_at)
    return cast(list[Registered], facts_of(read, stamped(logged_at, origin, source)))


def read_cameras(
    data: bytes,
    name: str,
    *,
    occurred_at: datetime,
    logged_at: datetime,
    origin: str = "files",
    source: Source = "history",
) -> list[CameraSet]:
    """The cameras of a list, as `read_cards` reads cards."""
    read = read_inventory(CAMERAS, data, name, occurred_at)
    return cast(list[CameraSet], facts_of(read, stamped(logged_at, origin, source)))


def read_drives(
    data: bytes,
    name: str,
    *,
    occurred_at: datetime,
    logged_at: datetime,
    origin: str = "files",
    source: Source = "history",
) -> list[DriveRegistered]:
    """The drives of a list, as `read_cards` reads cards."""
    read = read_inventory(DRIVES, data, name, occurred_at)
    return cast(list[DriveRegistered], facts_of(read, stamped(logged_at, origin, source)))


def read_inventory(inventory: Inventory, data: bytes, name: str, occurred_at: datetime) -> Rows:
    """The rows of a list as objects of the wire, and every fault. Never raises."""
    read = Rows(name, expects={c.field: c.expected for c in inventory.columns if c.expected})
    grid = read_grid(data, read)
    if not grid.header:
        return read
    found = _find_columns(inventory, grid, read)
    if _lacks_column(inventory, grid, read):
        return read
    labels: dict[str, int] = {}
    for line, cells in grid.rows:
        obj = {"event": inventory.fact.event, "occurred_at": occurred_at.isoformat()}
        obj |= _fields(found, cells)
        if _new_label(inventory, obj.get(inventory.label), line, labels, read):
            obj["id"] = _id(inventory, obj[inventory.label])
            read.rows.append((line, obj))
    return read


def _id(inventory: Inventory, label: str) -> str:
    return str(uuid.uuid5(_NAMESPACE, f"{inventory.fact.event} {label}"))


def _find_columns(inventory: Inventory, grid: Grid, read: Rows) -> list[_Read | None]:
    """For each column of the grid, its field and the way to read a cell; None for no name."""
    known = {name: column for column in inventory.columns for name in column.names}
    found: list[_Read | None] = []
    for header in grid.header:
        name, unit = (squash(header), None) if squash(header) in known else split_unit(header)
        column = known.get(name)
        if column is not None and (column.takes_unit or unit is None):
            found.append(_claim(column, header, unit, grid, read))
            continue
        found.append(None)
        if header:
            hint = nearest(name, tuple(known))
            expected = f"a column known here{hint}"
            read.fault(grid.header_line, printable(header), "an unknown column", expected)
    return found


def _claim(column: Column, header: str, unit: str | None, grid: Grid, read: Rows) -> _Read | None:
    """The way to read a column, unless another column has its field already."""
    if column.field in read.columns and not column.several:
        found = f"a second column for the same as {read.columns[column.field]}"
        read.fault(grid.header_line, printable(header), found, "one column for each thing")
        return None
    read.columns.setdefault(column.field, printable(header))
    return column, unit


def _lacks_column(inventory: Inventory, grid: Grid, read: Rows) -> bool:
    """Note each column that must be there and is not; whether there is one."""
    required = SHAPES[inventory.fact].required
    missing = [c for c in inventory.columns if c.field in required and c.field not in read.columns]
    for column in missing:
        found = f"no column for the {column.field.removesuffix('_bytes')}"
        expected = f"one called {', '.join(column.names[:3])} or the like"
        read.fault(grid.header_line, None, found, expected)
    return bool(missing)


def _fields(found: list[_Read | None], cells: list[str]) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for way, cell in zip(found, cells, strict=False):
        said = cell.strip()
        if way is None or not said:
            continue
        column, unit = way
        try:
            value: Any = column.read(said, unit)
        except NotASize as error:
            value = Unread(said, error.expected)
        before = fields.get(column.field)
        fields[column.field] = value if before is None else f"{before} {value}"
    return fields


def _new_label(
    inventory: Inventory, label: str | None, line: int, labels: dict[str, int], read: Rows
) -> bool:
    """Whether a row has a label that no earlier row has; if not, that is noted."""
    column = read.columns[inventory.label]
    if label is None:
        read.fault(line, column, "nothing", "a label")
        return False
    if label in labels:
        found = f"{printable(label)}, which stands on line {labels[label]} too"
        read.fault(line, column, found, "each label once")
        return False
    labels[label] = line
    return True
