"""What was done to the data as a whole, and when: one line of JSON each, in the data folder.

It stands beside the database, not in it: it must be there when the database is not.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

NAME = "operations.jsonl"


@dataclass(frozen=True, slots=True)
class Note:
    """did: backup, restore, restore-test, upgrade. fine: whether it came out well."""

    at: datetime
    did: str
    file: str
    fine: bool
    says: str


def note(folder: Path, says: object, did: str, at: datetime, *, file: object = "") -> None:
    """Add a line on what came out well. Errors: OSError."""
    add(folder, Note(at, did, str(file), True, str(says)))


def add(folder: Path, one: Note) -> None:
    """Add a line. Errors: OSError."""
    told = {
        "at": one.at.isoformat(), "did": one.did, "file": one.file, "fine": one.fine,
        "says": one.says,
    }  # fmt: skip
    with (folder / NAME).open("a", encoding="utf-8") as file:
        file.write(json.dumps(told, ensure_ascii=False) + "\n")
        file.flush()
        os.fsync(file.fileno())


def last(folder: Path, did: str, *, fine: bool = True) -> Note | None:
    """The last that came out so; None is unknown."""
    found = [one for one in notes(folder) if one.did == did and one.fine == fine]
    return found[-1] if found else None


def notes(folder: Path) -> list[Note]:
    """Every line that can be read, the oldest first."""
    try:
        lines = (folder / NAME).read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return []
    return [one for line in lines if (one := _read(line)) is not None]


def _read(line: str) -> Note | None:
    try:
        told: Any = json.loads(line)
        at = datetime.fromisoformat(told["at"])
        read = Note(at, told["did"], told["file"], told["fine"] is True, told["says"])
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    return read if at.tzinfo is not None else None
