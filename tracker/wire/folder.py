"""A folder of files as one journal: a crew's lists, and JSON Lines of what happened.

pool.csv, cameras.csv and drives.csv come first, then every *.jsonl by its name. All of it is
taken as history. Either everything is taken, or nothing, with every fault of every file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tracker.domain.facts import Fact
from tracker.wire.canonical import same_body
from tracker.wire.codec import decode
from tracker.wire.faults import BadInput, Fault, printable
from tracker.wire.inventory import CAMERAS, CARDS, DRIVES, Inventory, read_inventory
from tracker.wire.jsonlines import read_json_lines
from tracker.wire.rows import Rows, refuse

START = datetime(2000, 1, 1, tzinfo=UTC)
"""When the inventories stand, and from when what is read is logged, a microsecond apart."""

ORIGIN = "files"
LARGEST_FILE = 2**30
"""Bytes: 1 GiB."""

_LISTS: dict[str, Inventory] = {
    "pool.csv": CARDS,
    "cameras.csv": CAMERAS,
    "drives.csv": DRIVES,
}


@dataclass(slots=True)
class Folder:
    """What a folder says: its facts in the order of logging, and where each stands.

    places: id of the fact -> (file name, line counted from 1).
    """

    facts: list[Fact] = field(default_factory=list)
    places: dict[str, tuple[str, int]] = field(default_factory=dict)


def read_folder(path: Path) -> Folder:
    """All the facts of a folder's files; BadInput with every fault where there is any."""
    files = _files(path)
    folder = Folder()
    bodies: dict[str, dict[str, Any]] = {}
    faults: list[Fault] = []
    for file in files:
        read = _read(file)
        for line, obj in read.rows:
            _add(folder, bodies, read, line, obj)
        faults += read.faults
    refuse(faults)
    return folder


def _files(path: Path) -> list[Path]:
    """The files to read, in their order; BadInput where there is nothing to read."""
    try:
        here = {file.name: file for file in path.iterdir()}
    except OSError as error:
        found = f"no folder that can be read ({error.strerror})"
        raise _nothing(path, found) from None
    lists = [here[name] for name in _LISTS if name in here]
    facts = [here[name] for name in sorted(here) if name.endswith(".jsonl")]
    if not facts and "pool.csv" not in here:
        raise _nothing(path, "neither")
    return lists + facts


def _nothing(path: Path, found: str) -> BadInput:
    return BadInput([Fault(str(path), None, None, found, "a folder with pool.csv or *.jsonl")])


def _read(file: Path) -> Rows:
    """The rows of one file; a file that cannot be read is a fault."""
    name = printable(file.name)
    read = Rows(name)
    try:
        if not file.is_file():
            read.fault(None, None, "no ordinary file", "a file")
            return read
        size = file.stat().st_size
        if size > LARGEST_FILE:
            read.fault(None, None, f"{size:,} bytes", f"at most {LARGEST_FILE:,}: split the file")
            return read
        data = file.read_bytes()
    except OSError as error:
        read.fault(None, None, f"a file that cannot be read ({error.strerror})", "a readable file")
        return read
    if file.name in _LISTS:
        return read_inventory(_LISTS[file.name], data, name, START)
    return read_json_lines(data, name)


def _add(
    folder: Folder, bodies: dict[str, dict[str, Any]], read: Rows, line: int, obj: dict[str, Any]
) -> None:
    """Add one fact, unless it was said before; said before in other words is a fault."""
    logged_at = START + timedelta(microseconds=len(folder.facts))
    fact = read.take(
        line, obj, lambda row: decode(row, logged_at=logged_at, origin=ORIGIN, source="history")
    )
    if fact is None:
        return
    if fact.id not in bodies:
        folder.facts.append(fact)
        folder.places[fact.id] = (read.name, line)
        bodies[fact.id] = obj
    elif same_body(bodies[fact.id]) != same_body(obj):
        file, first = folder.places[fact.id]
        found = f"the id of {file}, line {first}, with another body"
        read.fault(line, "id", found, "an id of its own, or the same fact again word for word")
