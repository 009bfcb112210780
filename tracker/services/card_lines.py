"""What the page of a card shows, as it is handed over: rolls with their copies, what went wrong."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tracker.domain.card import CardState
from tracker.domain.dangers import Danger
from tracker.domain.doubts import Doubt, labels_out
from tracker.domain.facts import CameraSet, Cleared, DamageNoted, Moment
from tracker.domain.fitness import Fitness
from tracker.domain.mishaps import Mishap
from tracker.domain.needs import Need
from tracker.domain.permissions import Reason
from tracker.domain.rolls import Roll, is_empty
from tracker.domain.status import CardView

RESCUED = ("formatted_uncovered", "formatted_late", "found_empty", "card_unreadable")
"""Mishaps after which nothing may be written to the card: what was on it may be got back."""


@dataclass(frozen=True, slots=True)
class CopyLine:
    """One roll on one drive. level: None where no finished copy stands. why: it does not count.

    bytes: as whoever finished it gave them; None is unknown.
    """

    drive: str
    level: str | None
    place: str
    holder: str | None
    made_from: str | None
    bytes: int | None
    at: Moment | None
    why: str | None

    @property
    def counts(self) -> bool:
        """Whether it counts for the backup rule."""
        return self.why is None

    @property
    def says(self) -> str:
        """Its level in short, and why it does not count where it is not the level alone."""
        if self.level is None or self.why is None:
            return self.level or self.why or "unknown"
        if self.why.startswith(f"it is {self.level};"):
            return self.level
        return f"{self.level}, does not count: {self.why}"


@dataclass(frozen=True, slots=True)
class MainRoll:
    """The main roll of a mirror, which covers it. card: its label."""

    card: str
    name: str
    held: bool
    covered: bool
    copies: tuple[CopyLine, ...]


@dataclass(frozen=True, slots=True)
class RollLine:
    """One roll with its copies. bytes, clips: as the last pull gave them; None is unknown.

    before: the copies of what it held before it went into the camera again. main: of a mirror;
    None where it is not known, and for every other roll.
    """

    roll: Roll
    open: bool
    held: bool
    owes: bool
    covered: bool
    bytes: int | None
    clips: int | None
    copies: tuple[CopyLine, ...]
    before: tuple[CopyLine, ...] = ()
    main: MainRoll | None = None

    @property
    def counting(self) -> int:
        """How many of its copies count."""
        return sum(copy.counts for copy in self.copies)


@dataclass(frozen=True, slots=True)
class CameraLine:
    """A camera that the card may go into. inside: labels. reasons: why it should not.

    wants_format: why it has to be formatted there first, which usually follows a load anyway.
    """

    camera: CameraSet
    inside: tuple[str, ...]
    reasons: tuple[Reason, ...]
    wants_format: tuple[Reason, ...]

    @property
    def full(self) -> bool:
        """Whether there is no slot free in it."""
        return len(self.inside) >= self.camera.slots


@dataclass(frozen=True, slots=True)
class Standing:
    """A mishap that stands. roll: by name. at: when the fact happened."""

    mishap: Mishap
    roll: str | None
    at: datetime | None

    @property
    def says(self) -> str:
        """What went wrong, with its roll and its drive."""
        of = [f"roll {self.roll}"] if self.roll else []
        on = [f"on {self.mishap.key.drive}"] if self.mishap.key.drive else []
        about = f" ({', '.join([*of, *on])})" if of or on else ""
        return self.mishap.kind.says + about


@dataclass(frozen=True, slots=True)
class CardPage:
    """All of it. with_whom: who has the card, in words, since when; None is unknown.

    place: the kind of place where that is, as it was said; "" if nothing was. todays: today's
    drives; todays_gone: those of them to which no copy can go, "RAID is lost". no_leave: why a
    format has no leave that stands, beside the rolls that are not backed up. promise: what was
    promised when it was cleared against the backup rule, while that stands.
    """

    state: CardState
    shown: CardView
    need: Need
    with_whom: str | None
    since: Moment | None
    place: str
    rolls: tuple[RollLine, ...]
    earlier: tuple[RollLine, ...]
    reasons: tuple[Reason, ...]
    rule: str
    dangers: tuple[tuple[str, Danger], ...]
    mishaps: tuple[Standing, ...]
    doubts: tuple[Doubt, ...]
    cameras: tuple[CameraLine, ...]
    drives: tuple[tuple[str, str], ...]
    todays: tuple[str, ...]
    todays_gone: tuple[str, ...]
    damage: tuple[DamageNoted, ...]
    fitness: Fitness
    code: str | None
    history: tuple[dict[str, Any], ...]
    no_leave: tuple[Reason, ...] = ()
    promise: Cleared | None = None

    @property
    def id(self) -> str:
        """The card's own id, whatever its label is."""
        return self.state.card_id

    @property
    def label(self) -> str:
        """The label that it has now."""
        return self.state.label

    @property
    def status(self) -> str:
        """Its status."""
        return self.shown.status

    @property
    def probably_out(self) -> bool:
        """Whether it is said to be in a camera, and probably is not."""
        return self.label in labels_out(self.doubts)

    @property
    def at_risk(self) -> tuple[RollLine, ...]:
        """The rolls on it that are lost if the card is: those that are not covered."""
        return tuple(line for line in self.rolls if line.owes and not line.covered)

    @property
    def stops(self) -> tuple[Reason, ...]:
        """What forbids to format it beside the backup rule: it is set aside, or footage is lost."""
        aside = (
            Reason("set aside", f"it is set aside: {why}", "a data manager decides")
            for why in self.state.set_aside
        )
        return (*aside, *(Reason("lost", d.says, d.to_do, d.roll) for d in self.lost))

    @property
    def against(self) -> tuple[Reason, ...]:
        """All that stands in the way of a format, each once, with what settles it."""
        gone = self.status in ("retired", "missing")
        if gone and self.state.seen and not self.grave:
            return ()
        told = {reason.code for reason in self.reasons} | {"not cleared", "retired", "missing"}
        more = (reason for reason in self.no_leave if reason.code not in told)
        return (*self.stops, *self.reasons, *more)

    @property
    def unfit(self) -> tuple[DamageNoted, ...]:
        """Damage for which it must not be used, and that nobody dealt with."""
        return tuple(one for one in self.damage if one.severity >= 3)

    @property
    def lost(self) -> tuple[Danger, ...]:
        """The dangers of rolls that may still be got back from the card, and from nowhere else."""
        return tuple(
            danger
            for _, danger in self.dangers
            if not danger.mended and any(m.key.kind in RESCUED for m in danger.mishaps)
        )

    @property
    def may_format(self) -> bool | None:
        """As what it needs next has it; but never while something may be got back from it."""
        return False if self.lost else self.need.may_format

    @property
    def grave(self) -> bool:
        """Whether footage is lost if the card is wiped or shot on now."""
        return bool(self.at_risk or self.lost)

    @property
    def unsized(self) -> int:
        """How many of its rolls have a size that nobody knows."""
        closed = [roll for roll in self.state.all_closed() if not is_empty(roll)]
        return sum(roll.figures.bytes is None for roll in closed)
