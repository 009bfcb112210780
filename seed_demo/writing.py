"""The files of the folder: pool, cameras, drives, and the journal, one file a week."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path

from seed_demo.cast import CAMERAS, DRIVES, FIRST_DAY, GB, TB, Card
from seed_demo.world import Fact

POOL = (
    "Label",
    "Type",
    "Size",
    "Make and model",
    "Serial",
    "TBW",
    "Sustained write MB/s",
    "Owner",
    "Case",
    "Notes",
)
CAMERA = ("Letter", "Unit", "Slots", "Takes", "Needs write MB/s", "Formats to", "Records")
DRIVE = ("Label", "Kind", "Size", "Place")


def write_tables(folder: Path, cards: Iterable[Card]) -> None:
    """Write pool.csv, cameras.csv and drives.csv."""
    _table(folder / "pool.csv", POOL, [_pool_row(card) for card in cards])
    cameras = [
        (c.letters, c.unit, c.slots, c.takes, c.needs_write_mb, c.formats_to, c.records)
        for c in CAMERAS
    ]
    _table(folder / "cameras.csv", CAMERA, cameras)
    drives = [(d.label, d.kind, f"{d.capacity_tb} TB", d.place) for d in DRIVES]
    _table(folder / "drives.csv", DRIVE, drives)


def _pool_row(card: Card) -> Sequence[object]:
    return (
        card.label,
        card.media,
        f"{card.capacity / TB:g} TB" if card.capacity >= TB else f"{card.capacity // GB} GB",
        card.model,
        card.serial,
        card.endurance_tb,
        card.sustained_mb,
        card.owner,
        card.case,
        card.notes,
    )


def _table(path: Path, names: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(names)
    writer.writerows(rows)
    path.write_bytes(text.getvalue().encode())


def write_journal(folder: Path, lines: Iterable[tuple[datetime, Fact]]) -> None:
    """Write the facts, in the order in which they were typed: week-1.jsonl and so on.

    A weekend belongs to the week before it; the preparation to the first.
    """
    weeks: dict[int, list[str]] = {}
    for typed_at, fact in lines:
        week = max(1, (typed_at.date() - FIRST_DAY).days // 7 + 1)
        weeks.setdefault(week, []).append(json.dumps(fact) + "\n")
    for week, texts in weeks.items():
        (folder / f"week-{week}.jsonl").write_bytes("".join(texts).encode())
