"""What a backup says of itself: its manifest, and what must be found again when it is restored."""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from datetime import datetime
from importlib.metadata import version
from typing import Any

from tracker.operations.errors import BadBackup

WHAT = "cardwright backup"
FORMAT = 1
NEWER = "install the version of Cardwright that made it, or a newer one"


@dataclass(frozen=True, slots=True)
class Part:
    """A file in a backup: bytes, and its SHA-256 in hexadecimal."""

    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What is in a backup.

    database: sqlite or postgresql. revision: of its tables. counts: rows by table. root: of the
    checkpoint. now_sha256: of what `now` says, in canonical JSON; None where it was not asked.
    parts: the files, by name.
    """

    made_at: datetime
    made_by: str
    database: str
    revision: str
    production: str
    origin: str
    facts: int
    root: str
    now_sha256: str | None
    counts: dict[str, int]
    parts: dict[str, Part]


def this_version() -> str:
    """The version of this program."""
    return version("cardwright")


def written(manifest: Manifest) -> bytes:
    """A manifest as a file."""
    told: dict[str, Any] = {"what": WHAT, "format": FORMAT}
    told |= {field.name: getattr(manifest, field.name) for field in fields(manifest)}
    told["made_at"] = manifest.made_at.isoformat()
    told["parts"] = {
        name: {"bytes": part.bytes, "sha256": part.sha256} for name, part in manifest.parts.items()
    }
    return json.dumps(told, ensure_ascii=False, indent=1).encode() + b"\n"


def read_manifest(data: bytes, name: object) -> Manifest:
    """A manifest from the file of a backup of that name. Errors: BadBackup."""
    try:
        told: Any = json.loads(data)
        if told["what"] != WHAT:
            raise BadBackup(name, "its manifest is of something else")
        if type(told["format"]) is int and told["format"] > FORMAT:
            raise BadBackup(name, f"a newer Cardwright made it (form {told['format']})", NEWER)
        return _read(told)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise BadBackup(name, "its manifest cannot be read") from None


def _read(told: dict[str, Any]) -> Manifest:
    parts = {
        str(name): Part(_count(part["bytes"]), _text(part["sha256"]))
        for name, part in told["parts"].items()
    }
    made_at = datetime.fromisoformat(told["made_at"])
    now = told["now_sha256"]
    if told["format"] != FORMAT or made_at.tzinfo is None:
        raise ValueError
    return Manifest(
        made_at=made_at,
        made_by=_text(told["made_by"]),
        database=_text(told["database"]),
        revision=_text(told["revision"]),
        production=_text(told["production"]),
        origin=_text(told["origin"]),
        facts=_count(told["facts"]),
        root=_text(told["root"]),
        now_sha256=None if now is None else _text(now),
        counts={str(table): _count(count) for table, count in told["counts"].items()},
        parts=parts,
    )


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value


def _count(value: Any) -> int:
    if type(value) is not int or value < 0:
        raise TypeError
    return value
