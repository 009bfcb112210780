"""What a card's fold must know of the world beyond the card, read from the journal.

A process remembers it until the production's count of such facts moves on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import time
from threading import Lock
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, Row, delete, insert, select

from tracker.domain.drives import Drive, drives_of
from tracker.domain.facts import FACTS, CameraSet, DriveFact, Fact, Moment, RuleSet, moment
from tracker.domain.fold import context_moments, effective_by_drive, proofs_kept
from tracker.domain.rule import Context, RuleBook
from tracker.domain.voids import effective
from tracker.store import tables as t
from tracker.store.journal import facts_of_kind
from tracker.store.rows import camera_row, table
from tracker.store.types import moment_text


@dataclass(frozen=True, slots=True)
class Around:
    """The context, the cameras as they are described, and when something changed in it."""

    context: Context
    cameras: dict[str, CameraSet]
    changes: list[Moment]
    count: int


@dataclass(slots=True)
class Memory:
    """What one process remembers of the world around the cards."""

    _kept: Around | None = None
    _lock: Lock = field(default_factory=Lock)

    def look(self, conn: Connection, production: Row[Any] | None = None) -> Around:
        """The world around the cards, read anew only if it has changed.

        production: its row, if it was read in this transaction already.
        """
        row = production or conn.execute(select(table(t.Production))).one()
        with self._lock:
            if self._kept is None or self._kept.count != row.context:
                self._kept = read_around(conn, row, drives_in_use(conn))
            return self._kept

    def forget(self) -> None:
        """Read anew next time: what was read may be taken back with its transaction."""
        with self._lock:
            self._kept = None


def drives_in_use(conn: Connection) -> set[str]:
    """The drives that copies are on, or were made from, as far as rows are written."""
    return set(conn.scalars(select(t.Use.drive).distinct()))


def read_around(
    conn: Connection, production: Row[tuple[object, ...]], used: Iterable[str]
) -> Around:
    """From the journal. used: drives whose registration cannot be voided: copies rest on it."""
    facts = facts_of_kind(conn, "drive", "production")
    drive_facts = effective_by_drive([f for f in facts if isinstance(f, DriveFact)], used)
    others = effective([f for f in facts if not isinstance(f, DriveFact)])
    cameras = sorted((f for f in others if isinstance(f, CameraSet)), key=moment)
    context = Context(
        drives=drives_of(drive_facts),
        rules=RuleBook(f for f in others if isinstance(f, RuleSet)),
        zone=ZoneInfo(production.time_zone),
        day_starts=time.fromisoformat(production.day_starts),
        proofs=proofs_kept(others),
    )
    return Around(
        context,
        {camera.letters: camera for camera in cameras},
        context_moments(drive_facts, others),
        production.context,
    )


def with_mains(
    around: Around, mains: dict[str, list[tuple[Moment, bool]]], main_rolls: dict[str, str]
) -> Context:
    """The context with what mirrors must know of their main rolls."""
    return replace(around.context, mains=mains, main_rolls=main_rolls)


def drive_row(drive: Drive) -> dict[str, object]:
    """A drive's row, as it stands in the end."""
    state = drive.states[-1]
    return {
        "label": drive.label,
        "kind": drive.kind,
        "capacity_bytes": drive.capacity_bytes,
        "enclosure": drive.enclosure,
        "place": state.place,
        "holder": state.holder,
        "seal": state.seal,
        "emptied": None if state.emptied is None else moment_text(state.emptied),
        "failed": state.failed,
        "lost": state.lost,
        "returned": state.returned,
        "usable": state.usable,
    }


def write_around(conn: Connection, around: Around) -> None:
    """The rows of all drives and cameras, made anew: there are few."""
    conn.execute(delete(t.Drive))
    conn.execute(delete(t.Camera))
    drives = [drive_row(drive) for drive in around.context.drives.values()]
    if drives:
        conn.execute(insert(table(t.Drive)), drives)
    cameras = [camera_row(camera) for camera in around.cameras.values()]
    if cameras:
        conn.execute(insert(table(t.Camera)), cameras)


def about_the_world(fact: Fact) -> bool:
    """Whether a fact changes what is around the cards."""
    return type(fact) in _ABOUT_THE_WORLD


_ABOUT_THE_WORLD = frozenset(
    kind
    for kind in FACTS
    if issubclass(kind, DriveFact)
    or kind.event in ("rule_set", "proof_kept", "camera_set", "voided")
)
