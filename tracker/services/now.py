"""Now, as its page shows it: what is in danger, what each card needs next, who acts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection

from tracker.domain import whereabouts
from tracker.domain.dangers import Danger
from tracker.domain.doubts import Doubt, labels_out
from tracker.domain.facts import ReportedMissing
from tracker.domain.needs import IF_OUT, RANK_IF_OUT, WHO
from tracker.domain.rule import in_words
from tracker.domain.status import STATUSES
from tracker.domain.whereabouts import Given, Has
from tracker.services import standing
from tracker.services.looking import doubts
from tracker.services.service import Service
from tracker.store import now_lists

_EARLIEST = datetime.min.replace(tzinfo=UTC)
QUIET = ("ready", "cleared", "retired")
"""Of a card with such a status nothing is wanted now: they are counted, and shown when asked."""

NO_CAMERA = "no camera"


@dataclass(frozen=True, slots=True)
class Line:
    """A card, and what it needs next. Times are aware; None is unknown.

    cameras: the camera it is in, or those that the rolls on it were shot in; units: theirs.
    since: when the oldest roll on it that is not covered was closed. has, has_since: who has it,
    in words. holder: whom it can be asked of. uncovered: rolls on it that are not covered.
    """

    label: str
    status: str
    holds: tuple[str, ...]
    uncovered: tuple[str, ...]
    may_format: bool | None
    next: str
    who: str
    rank: int
    since: datetime | None
    has: str
    has_since: datetime | None
    holder: str
    case: str
    cameras: tuple[str, ...]
    units: tuple[str, ...]
    doubtful: bool

    @property
    def in_danger(self) -> bool:
        """Whether it goes before all that is usual."""
        return self.rank <= 1


@dataclass(frozen=True, slots=True)
class Asked:
    """Which cards are asked for; an empty string is any."""

    unit: str = ""
    camera: str = ""
    status: str = ""
    holder: str = ""
    case: str = ""
    who: str = ""

    def fits(self, line: Line) -> bool:
        """Whether a card is one of them."""
        return (
            self.unit in ("", *line.units)
            and self.camera in ("", *line.cameras)
            and self.status in ("", line.status)
            and self.holder in ("", line.holder)
            and self.case in ("", line.case)
            and self.who in ("", line.who)
        )


@dataclass(frozen=True, slots=True)
class Now:
    """What is true now. gone: cards that are missing, set aside or retired with uncovered rolls.

    counts: cards by status, in the order of the statuses. others: mishaps that are no danger,
    taken together. below: rolls below the backup rule. rule: in words.
    """

    dangers: tuple[Danger, ...]
    gone: tuple[Line, ...]
    doubts: tuple[Doubt, ...]
    counts: dict[str, int]
    others: int
    below: int
    lines: tuple[Line, ...]
    rule: str


def now(service: Service) -> Now:
    """All cards: what is in danger first, and of that the oldest."""
    with service.store.reading() as conn:
        around = service.around(conn)
        read = now_lists.cards(conn)
        ids = {roll for _, kept in read for roll in kept.held}
        held = now_lists.rolls_by_id(conn, ids)
        doubtful = doubts(conn, around, _unsure(read, held))
        lines = _lines(conn, read, held, labels_out(doubtful))
        found = standing.mishaps(conn)
        by_status = Counter(line.status for line in lines)
        return Now(
            dangers=tuple(found["danger"]),
            gone=tuple(line for line in lines if line.rank == 0),
            doubts=tuple(doubtful),
            counts={status: by_status[status] for status in STATUSES if by_status[status]},
            others=len(found["warning"]) + len(found["note"]),
            below=now_lists.count_below(conn),
            lines=tuple(lines),
            rule=in_words(around.context.rules.main),
        )


def rolls_below(service: Service) -> int:
    """How many rolls are below the backup rule."""
    with service.store.reading() as conn:
        return now_lists.count_below(conn)


def choices(lines: Iterable[Line]) -> dict[str, list[str]]:
    """What can be asked for, of which there is more than nothing, by the names of `Asked`."""
    seen = list(lines)
    return {
        "unit": sorted({unit for line in seen for unit in line.units}),
        "camera": sorted({camera for line in seen for camera in line.cameras}),
        "status": [s for s in STATUSES if any(line.status == s for line in seen)],
        "holder": sorted({line.holder for line in seen if line.holder}),
        "case": sorted({line.case for line in seen if line.case}),
        "who": sorted({line.who for line in seen}),
    }


# The cards


_Read = list[tuple[Any, now_lists.Kept]]


def _unsure(read: _Read, held: dict[str, Any]) -> set[str]:
    """The cards with a roll on them that is open, or whose name was guessed."""
    unsure = {roll_id for roll_id, roll in held.items() if roll.guessed or not roll.closed}
    return {row.id for row, kept in read if unsure.intersection(kept.held)}


def _lines(conn: Connection, read: _Read, held: dict[str, Any], out: set[str]) -> list[Line]:
    units = now_lists.units(conn)
    gone = [row.id for row, _ in read if row.status == "missing"]
    reports = now_lists.reported_missing(conn, gone) if gone else {}
    made = []
    for row, kept in read:
        rolls = [held[roll] for roll in kept.held if roll in held]
        has = _with_whom(row, kept.holder, rolls, reports.get(row.id))
        made.append(_line(row, rolls, has, units, out=row.label in out))
    return sorted(made, key=lambda line: (line.rank, line.since or _EARLIEST, line.label))


def _with_whom(
    row: Any, holder: now_lists.Given | None, rolls: list[Any], report: ReportedMissing | None
) -> Has[datetime]:
    """Who has a card, as far as the rows say."""
    if report is not None:
        return whereabouts.missing(report.place, report.occurred_at)
    if row.camera is not None:
        opened = max((r.opened_at for r in rolls if not r.closed), default=None)
        return whereabouts.in_camera(row.camera, opened)
    given = None
    if holder is not None:
        given = Given(holder.to, holder.place, holder.outside, holder.occurred_at)
    pulled = [r for r in rolls if r.camera is not None and r.closed_at is not None]
    return whereabouts.out_of_a_camera(given, [(r.camera, r.closed_at) for r in pulled])


def _line(
    row: Any, rolls: list[Any], has: Has[datetime], units: dict[str, str], *, out: bool
) -> Line:
    shot_in = {roll.camera for roll in rolls if roll.camera is not None}
    cameras = (row.camera,) if row.camera is not None else tuple(sorted(shot_in))
    out = out and row.status == "loaded"
    return Line(
        label=row.label,
        status=row.status,
        holds=tuple(row.holds.split("\n")) if row.holds else (),
        uncovered=tuple(row.uncovered.split("\n")) if row.uncovered else (),
        may_format=False if out else row.may_format,
        next=IF_OUT if out else row.next,
        who=WHO["exposed"] if out else row.who,
        rank=min(row.rank, RANK_IF_OUT) if out else row.rank,
        since=row.since,
        has=has.says or "unknown",
        holder=has.ask,
        has_since=has.since,
        case=row.case or "",
        cameras=cameras or (NO_CAMERA,),
        units=tuple(sorted({units[camera] for camera in cameras if camera in units})),
        doubtful=out,
    )
