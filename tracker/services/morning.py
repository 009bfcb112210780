"""A unit's morning, read: its cameras and what is in them, the choices, the plan, call and wrap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection

from tracker.domain import plans
from tracker.domain.calendar import ShootingDays, day_by_the_clock
from tracker.domain.doubts import Doubt, planned_otherwise, probably_out
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import Called, CameraSet, Moment, PlanCommitted, Wrapped, moment
from tracker.domain.permissions import Reason
from tracker.domain.plans import OF_ONE_CAMERA, Choice, Line, Place, Since
from tracker.domain.rolls import Roll
from tracker.domain.rule import Context
from tracker.domain.status import CardView, view
from tracker.domain.voids import effective
from tracker.services import reels
from tracker.services.acts_drive import drives_of_today, gone_of_today
from tracker.services.service import Service
from tracker.store import mornings, now_lists, people_lists, queries
from tracker.store.around import Around
from tracker.store.journal import facts_of
from tracker.store.projection import read_state

MOST_SPARES = 9
"""Spare cards that are planned for one camera, at most."""


@dataclass(frozen=True, slots=True)
class UnitDay:
    """A unit's shooting day. last: its last call or wrap; None if nobody logged any.

    day: the day that it is for the unit. left_open: it was called on an earlier day by the clock,
    and nobody said that it wrapped. wrapped: when the day before ended; None where nobody said.
    """

    unit: str
    days: ShootingDays
    day: date
    last: Called | Wrapped | None
    wrapped: datetime | None
    left_open: bool

    @property
    def called(self) -> bool:
        """Whether it was called, and has not wrapped since."""
        return isinstance(self.last, Called)

    @property
    def next_number(self) -> str:
        """The day number to be said next, as far as the last one tells; else nothing."""
        said = "" if self.last is None else self.last.day_number or ""
        if self.called:
            return said
        return str(int(said) + 1) if said.isdecimal() and len(said) < 6 else ""

    def for_today(self, at: datetime) -> bool:
        """Whether what went into a camera then is there for this day."""
        return self.days.day_of(at) == self.day or (self.wrapped is not None and at > self.wrapped)


@dataclass(frozen=True, slots=True)
class Inside:
    """A card in a camera. for_today: it went in for this day.

    out: what makes one think that it is out again; None if nothing does.
    """

    card: str
    roll: str
    slot: int | None
    since: Moment
    for_today: bool
    out: str | None


@dataclass(frozen=True, slots=True)
class OneCamera:
    """A camera in the morning. next_roll: the name after the last one, a guess.

    only_here: cards that this camera should not take, though another may. Each reason with the
    labels that it speaks against.
    """

    described: CameraSet
    inside: tuple[Inside, ...]
    choices: tuple[Choice, ...]
    only_here: tuple[tuple[Reason, tuple[str, ...]], ...]
    next_roll: str


@dataclass(frozen=True, slots=True)
class Committed:
    """A plan that was committed. by: the name; None if unknown. lines: each with what is since."""

    plan: PlanCommitted
    by: str | None
    lines: tuple[tuple[Line, Since], ...]


@dataclass(frozen=True, slots=True)
class Morning:
    """What the page shows of one unit. before: the plan of the last day that had one.

    nowhere: cards that should go into no camera, each with its reasons. others: cards that the
    plans of other units have today, by label, each with its place in words. drives: today's; gone:
    those set for today to which no copy can go, "RAID is lost".
    """

    unit: UnitDay
    units: tuple[UnitDay, ...]
    cameras: tuple[OneCamera, ...]
    nowhere: tuple[tuple[str, tuple[Reason, ...]], ...]
    committed: Committed | None
    before: PlanCommitted | None
    others: Mapping[str, str]
    doubts: tuple[Doubt, ...]
    drives: tuple[tuple[str, datetime, bool], ...]
    gone: tuple[str, ...]

    @property
    def plan_id(self) -> str | None:
        """The id of the committed plan; None if there is none."""
        return None if self.committed is None else self.committed.plan.id

    @property
    def mark(self) -> str:
        """What a page shows of the day and its plan: another one when either is another."""
        return f"{self.unit.day} {self.plan_id or 'no plan'}"

    @property
    def letters(self) -> list[str]:
        """The letters of its cameras."""
        return [camera.described.letters for camera in self.cameras]


def morning(service: Service, unit: str | None = None) -> Morning | None:
    """The morning of a unit, of the first one if none is named; None if there is no unit at all.

    Errors: UnknownLabel.
    """
    with service.store.reading() as conn:
        now = service.clock()
        around = service.around(conn)
        units = _units(conn, around, now)
        if not units:
            return None
        chosen = _chosen(units, unit)
        return _morning(conn, around, units, chosen, now)


def _chosen(units: Sequence[UnitDay], unit: str | None) -> UnitDay:
    if unit is None:
        return units[0]
    found = next((one for one in units if one.unit == unit), None)
    if found is None:
        raise UnknownLabel("unit", unit, [one.unit for one in units])
    return found


def _units(conn: Connection, around: Around, now: datetime) -> list[UnitDay]:
    """The units that have a camera, the one of camera A first."""
    in_order = sorted(around.cameras.values(), key=lambda camera: camera.letters)
    names = list(dict.fromkeys(camera.unit for camera in in_order))
    facts = facts_of(conn, [f"unit/{name}" for name in names])
    said = {name: effective(facts.get(f"unit/{name}", [])) for name in names}
    return [
        _unit_day(
            name,
            [f for f in said[name] if isinstance(f, Called | Wrapped) and f.occurred_at <= now],
            around.context,
            now,
        )
        for name in names
    ]


def _unit_day(unit: str, facts: list[Called | Wrapped], context: Context, now: datetime) -> UnitDay:
    days = ShootingDays(facts, context.zone, context.day_starts)
    ordered = sorted(facts, key=moment)
    last = ordered[-1] if ordered else None
    ended = ordered[-2] if isinstance(last, Called) and len(ordered) > 1 else last
    day = days.day_of(now)
    return UnitDay(
        unit=unit,
        days=days,
        day=day,
        last=last,
        wrapped=ended.occurred_at if isinstance(ended, Wrapped) else None,
        left_open=isinstance(last, Called)
        and day < day_by_the_clock(now, context.zone, context.day_starts),
    )


def _morning(
    conn: Connection, around: Around, units: list[UnitDay], unit: UnitDay, now: datetime
) -> Morning:
    cards = _cards(conn, around)
    committed = now_lists.plans(conn)
    cameras = sorted(
        (c for c in around.cameras.values() if c.unit == unit.unit), key=lambda c: c.letters
    )
    letters = [camera.letters for camera in cameras]
    guessed_out = probably_out(around.cameras, cards)
    out = {label: doubt.says for doubt in guessed_out for label in doubt.cards}
    fillings = {row.id: int(row.cycles) for row in queries.cards(conn)}
    last_reels = mornings.last_reels(conn)
    of_camera = {
        camera.letters: plans.choices(camera, cards, around.context, fillings, out)
        for camera in cameras
    }
    doubts = [*guessed_out, *planned_otherwise(committed, cards)]
    ours = {c.label for c in cards if c.camera in letters}
    plan = plans.plan_of_day(committed, unit.unit, letters, unit.day)
    return Morning(
        unit=unit,
        units=tuple(units),
        cameras=tuple(
            OneCamera(
                camera,
                tuple(_inside(camera, unit, cards, out)),
                tuple(of_camera[camera.letters]),
                tuple(_only_here(of_camera[camera.letters])),
                _next_roll(camera.letters, last_reels),
            )
            for camera in cameras
        ),
        nowhere=tuple(_nowhere(of_camera[letters[0]])),
        committed=None if plan is None else _committed(conn, plan, letters, cards, out),
        before=plans.plan_before(committed, unit.unit, letters, unit.day),
        others=_others(around, committed, units, unit),
        doubts=tuple(doubt for doubt in doubts if ours.intersection(doubt.cards)),
        drives=tuple(_drives(conn, around, now)),
        gone=tuple(gone_of_today(conn)),
    )


def _cards(conn: Connection, around: Around) -> list[CardView]:
    states = [read_state(conn, card_id) for card_id in mornings.card_ids(conn)]
    return [view(s, around.context, held_only=True) for s in states if s is not None]


def _inside(
    camera: CameraSet, unit: UnitDay, cards: Sequence[CardView], out: Mapping[str, str]
) -> list[Inside]:
    found = []
    for card in cards:
        roll = card.state.open_roll()
        if roll is None or card.camera != camera.letters:
            continue
        since, doubted = roll.loaded, out.get(card.label)
        fresh = unit.for_today(since[0])
        found.append(Inside(card.label, _name(roll), roll.slot, since, fresh, doubted))
    return sorted(found, key=lambda one: (one.slot or 0, one.since))


def _name(roll: Roll) -> str:
    return f"{roll.name}?" if roll.guessed else roll.name


def _next_roll(camera: str, last_reels: Mapping[str, str]) -> str:
    return reels.after(camera, last_reels.get(camera))


def _only_here(
    choices: Sequence[Choice],
) -> list[tuple[Reason, tuple[str, ...]]]:
    """What speaks against this camera alone, with the labels, so that it is said once."""
    found: dict[Reason, list[str]] = {}
    for choice in choices:
        if all(reason.code in OF_ONE_CAMERA for reason in choice.reasons):
            for reason in choice.reasons:
                found.setdefault(reason, []).append(choice.label)
    return [(reason, tuple(sorted(labels))) for reason, labels in found.items()]


def _nowhere(choices: Sequence[Choice]) -> list[tuple[str, tuple[Reason, ...]]]:
    """The cards that no camera should take, by label."""
    found = []
    for choice in choices:
        reasons = tuple(r for r in choice.reasons if r.code not in OF_ONE_CAMERA)
        if reasons:
            found.append((choice.label, reasons))
    return sorted(found)


def _committed(
    conn: Connection,
    plan: PlanCommitted,
    letters: Sequence[str],
    cards: Sequence[CardView],
    out: Mapping[str, str],
) -> Committed:
    by = plan.by
    name = None if by is None else people_lists.names(conn).get(by, by)
    lines = plans.lines_of(plan, letters)
    return Committed(
        plan,
        name,
        tuple((line, plans.since_planned(line, moment(plan), cards, out)) for line in lines),
    )


def _others(
    around: Around,
    committed: Sequence[PlanCommitted],
    units: Sequence[UnitDay],
    unit: UnitDay,
) -> dict[str, str]:
    """The cards that other units plan for their day."""
    found = {}
    for other in units:
        letters = [c.letters for c in around.cameras.values() if c.unit == other.unit]
        plan = plans.plan_of_day(committed, other.unit, letters, other.day)
        if other.unit != unit.unit and plan is not None:
            for line in plans.lines_of(plan, letters):
                place = f"{line.place.says} of the {other.unit} unit"
                found[line.card or ""] = place
    return found


def _drives(conn: Connection, around: Around, now: datetime) -> list[tuple[str, datetime, bool]]:
    """Today's drives that can be used: label, when it was chosen, and whether that was today."""
    context = around.context
    usable = drives_of_today(conn)
    today = day_by_the_clock(now, context.zone, context.day_starts)
    return [
        (drive, at, day_by_the_clock(at, context.zone, context.day_starts) == today)
        for drive, at in mornings.todays_drives(conn)
        if drive in usable
    ]


def places(shown: Morning, spares: Mapping[str, int]) -> list[Place]:
    """Every place of a unit's plan. spares: how many each camera has, by its letters."""
    return [
        place
        for one in shown.cameras
        for place in (
            *(Place(one.described.letters, n + 1) for n in range(one.described.slots)),
            *(
                Place(one.described.letters, n + 1, spare=True)
                for n in range(spares.get(one.described.letters, 0))
            ),
        )
    ]
