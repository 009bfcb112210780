"""The drives as their pages show them: where each is, how full, and what its loss would mean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tracker.domain.drives import Drive, DriveState
from tracker.domain.errors import CardwrightError, UnknownLabel
from tracker.domain.facts import LEVELS, START, Fact
from tracker.domain.rule import RANK, Context, in_words
from tracker.domain.sentences import sentence
from tracker.domain.sizes import NotASize, is_bare, parse_bytes
from tracker.services.acts_drive import would_fall_below
from tracker.services.service import Service
from tracker.store import drive_lists, journal, people_lists

LATEST = 20
"""Facts of a drive that its page tells."""


class DriveKnown(CardwrightError):
    """A drive was to be registered under a label that another drive has."""

    def __init__(self, label: str) -> None:
        super().__init__(f"There is a drive {label} already: give this one another label.")


@dataclass(frozen=True, slots=True)
class Shown:
    """A drive as it stands. Times are aware; None is unknown.

    bytes: what is known to be on it; unsized: rolls of unknown size beside. full: per cent, as
    far as is known. where: as far as anybody can say, by its place, which was said last. since: of
    its place, holder and seal. state: why nothing on it can be had (failed, lost, returned), "" if
    it can; why_not: the same in words; state_since: since when. today: set for today's copies.
    """

    label: str
    kind: str
    capacity_bytes: int
    maker_model: str | None
    serial: str | None
    enclosure: str
    place: str
    where: str
    holder: str | None
    seal: str | None
    since: datetime
    state: str
    why_not: str
    state_since: datetime | None
    emptied_at: datetime | None
    rolls: int
    below: int
    bytes: int | None
    unsized: int
    today: bool

    @property
    def full(self) -> int | None:
        """Per cent of the capacity that is known to be used."""
        if self.bytes is None or not self.capacity_bytes:
            return None
        return round(100 * self.bytes / self.capacity_bytes)

    @property
    def danger(self) -> bool:
        """Whether rolls are below the rule while nothing on the drive can be had."""
        return bool(self.state) and self.below > 0


@dataclass(frozen=True, slots=True)
class CopyThere:
    """A copy of a roll on a drive. counts: whether it helps the rule; why_not: "" if it does."""

    drive: str
    level: str
    counts: bool
    why_not: str


@dataclass(frozen=True, slots=True)
class RollOn:
    """A roll on a drive. held: still on its card. copies: all there are, on every drive."""

    roll: str
    card: str
    held: bool
    covered: bool
    bytes: int | None
    copied_at: datetime
    here: CopyThere
    copies: tuple[CopyThere, ...]

    @property
    def elsewhere(self) -> tuple[CopyThere, ...]:
        """Copies on other drives that count."""
        return tuple(c for c in self.copies if c.drive != self.here.drive and c.counts)


@dataclass(frozen=True, slots=True)
class Loss:
    """What it means if a drive goes. falls: rolls that would fall below the backup rule.

    others: names of such rolls that are not on it (mirrors of those that are). below: rolls that
    are below the rule already, and lose this copy too.
    """

    falls: tuple[RollOn, ...]
    others: tuple[str, ...]
    below: tuple[RollOn, ...]

    @property
    def last(self) -> tuple[RollOn, ...]:
        """Rolls on no card any more of which no other copy counts."""
        return tuple(r for r in (*self.falls, *self.below) if not r.held and not r.elsewhere)


@dataclass(frozen=True, slots=True)
class Told:
    """One thing that happened to a drive: when, what, and who said so (None if unknown)."""

    at: datetime
    says: str
    by: str | None


def capacity(text: str) -> int:
    """Bytes, from a size as people write it. Errors: NotASize."""
    if is_bare(text):
        raise NotASize(text, f"a unit beside the number, such as {text.strip()} TB")
    return parse_bytes(text)


def every_drive(service: Service) -> list[Shown]:
    """Every drive: those in danger first, then those that can be had, by label."""
    with service.store.reading() as conn:
        known = service.around(conn).context.drives
        found = [_shown(row, known[row.label]) for row in drive_lists.drives(conn)]
    return sorted(found, key=lambda d: (not d.danger, bool(d.state), d.label))


def one_drive(service: Service, label: str) -> Shown:
    """A drive as it stands. Errors: UnknownLabel."""
    found = every_drive(service)
    for drive in found:
        if drive.label == label:
            return drive
    raise UnknownLabel("drive", label, [drive.label for drive in found])


def rule_said(service: Service) -> tuple[str, int]:
    """The backup rule in words, and how many copies it asks for."""
    with service.store.reading() as conn:
        rule = service.around(conn).context.rules.main
    return in_words(rule), rule.copies


def rolls_on(service: Service, label: str) -> list[RollOn]:
    """The rolls on a drive: below the rule first, then the one copied there last."""
    with service.store.reading() as conn:
        context = service.around(conn).context
        every: dict[str, list[Any]] = {}
        for copy in drive_lists.copies_beside(conn, label):
            every.setdefault(copy.roll, []).append(copy)
        return [
            _roll(row, every[row.id], label, context) for row in drive_lists.rolls_on(conn, label)
        ]


def loss_of(service: Service, label: str) -> Loss:
    """What it means if a drive is emptied, fails, is lost or goes back. Errors: UnknownLabel."""
    names = would_fall_below(service, label)
    on = rolls_on(service, label)
    falls = tuple(roll for roll in on if roll.covered and roll.roll in names)
    here = {roll.roll for roll in falls}
    below = tuple(roll for roll in on if not roll.covered)
    return Loss(falls, tuple(sorted(set(names) - here)), below)


def happened(service: Service, label: str) -> list[Told]:
    """What happened to a drive, the latest first."""
    subject = f"drive/{label}"
    with service.store.reading() as conn:
        facts = journal.facts_of(conn, [subject]).get(subject, [])
        by_id = {fact.id: fact for fact in facts}
        names = people_lists.names(conn)
    return [_told(fact, by_id, names) for fact in reversed(facts[-LATEST:])]


def _told(fact: Fact, beside: dict[str, Fact], names: dict[str, str]) -> Told:
    by = None if fact.by is None else names.get(fact.by, fact.by)
    return Told(fact.occurred_at, sentence(fact, beside), by)


def _shown(row: Any, drive: Drive) -> Shown:
    now = drive.states[-1]
    state = "returned" if now.returned else "lost" if now.lost else "failed" if now.failed else ""
    registered = drive.registered
    return Shown(
        row.label, row.kind, row.capacity_bytes, registered.maker_model, registered.serial,
        row.enclosure, row.place, now.where, row.holder, row.seal,
        since=_since(drive, lambda s: (s.place, s.holder, s.seal)),
        state=state,
        why_not=now.why_not,
        state_since=_since(drive, lambda s: (s.failed, s.lost, s.returned)) if state else None,
        emptied_at=None if now.emptied is None else now.emptied[0],
        rolls=int(row.rolls), below=int(row.below),
        bytes=None if row.bytes is None else int(row.bytes), unsized=int(row.unsized),
        today=row.set_at is not None,
    )  # fmt: skip


def _since(drive: Drive, what: Callable[[DriveState], Any]) -> datetime:
    """Since when a drive has been what it is, in some respect."""
    at = drive.moments[-1]
    for moment, state in zip(reversed(drive.moments), reversed(drive.states), strict=True):
        if what(state) != what(drive.states[-1]):
            break
        at = moment
    return drive.registered.occurred_at if at == START else at[0]


def _roll(row: Any, copies: list[Any], label: str, context: Context) -> RollOn:
    rules = context.rules
    rule = rules.proxy if row.loaded_as == "proxy" else rules.main
    needs = RANK[rule.level] if row.needs_rank is None else row.needs_rank
    there = tuple(_copy(copy, needs) for copy in copies)
    here = next(copy for copy in there if copy.drive == label)
    size = None if row.bytes is None else int(row.bytes)
    return RollOn(row.name, row.card, row.held, row.covered, size, row.finished_at, here, there)


def _copy(row: Any, needs: int) -> CopyThere:
    why = ""
    if not row.usable:
        drive = DriveState(row.place, failed=row.failed, lost=row.lost, returned=row.returned)
        why = f"{row.drive} {drive.why_not}"
    elif not row.sound:
        why = "short, or different from the card"
    elif row.rank < needs:
        why = f"the rule asks for {LEVELS[needs]}"
    return CopyThere(row.drive, LEVELS[row.rank], not why, why)
