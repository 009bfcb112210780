"""One card as it stands: what it holds, what happened to it, which mishaps were made.

`CardState` is what `step` takes and gives. Nobody changes a roll but through `edit`, so that a
state which was kept stays as it was while the next one is made from it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from tracker.domain.facts import (
    START,
    DamageNoted,
    FileSystem,
    HandedOver,
    HealthRead,
    Moment,
    Registered,
    moment,
)
from tracker.domain.mishaps import Mishap, MishapKey
from tracker.domain.rolls import Roll

KEPT = (Registered, HandedOver, DamageNoted, HealthRead)
"""Facts that a state holds as they are."""


@dataclass(frozen=True, slots=True)
class Clearing:
    """Leave to format the card, in the camera: for the rolls that it held at that moment."""

    fact: str
    at: Moment
    rolls: tuple[str, ...]
    override: bool


@dataclass(frozen=True, slots=True)
class LastFormat:
    """How the card was last formatted. body: the camera body, where it is known."""

    at: Moment
    in_camera: bool
    camera: str | None
    body: str | None
    file_system: FileSystem | None


@dataclass(slots=True)
class CardState:
    """A card, folded up to `last`.

    labels: every label it has had, the present one last. seen: somebody knows what was on it.
    rolls: all that it ever held, by id; opened_rolls: how many those are. held: those on it now,
    in order; opened: the one in the camera. begun_last: the rolls of the copy begun last on each
    drive, under_way: of the one not ended there. answerable: the roll that a pull logged now
    would say again.
    """

    card_id: str
    labels: tuple[str, ...] = ()
    registered: Registered | None = None
    last: Moment | None = None
    folded: int = 0
    seen: bool = False
    rolls: dict[str, Roll] = field(default_factory=dict)
    opened_rolls: int = 0
    held: tuple[str, ...] = ()
    opened: str | None = None
    by_name: dict[str, tuple[str, ...]] = field(default_factory=dict)
    answerable: str | None = None
    last_format: LastFormat | None = None
    clearing: Clearing | None = None
    set_aside: tuple[str, ...] = ()
    missing: bool = False
    retired: str | None = None
    holder: HandedOver | None = None
    damage: tuple[DamageNoted, ...] = ()
    damage_settled: tuple[str, ...] = ()
    health: HealthRead | None = None
    begun_last: dict[str, tuple[str, ...]] = field(default_factory=dict)
    under_way: dict[str, tuple[str, ...]] = field(default_factory=dict)
    mishaps: dict[MishapKey, Mishap] = field(default_factory=dict)
    settled_losses: tuple[str, ...] = ()
    _mine: set[str] = field(default_factory=set, repr=False, compare=False)

    @property
    def label(self) -> str:
        """The label that the card has now."""
        return self.labels[-1] if self.labels else self.card_id

    @property
    def visiting(self) -> bool:
        """Whether it is somebody else's card that only passes through."""
        return self.registered is not None and self.registered.visiting

    @property
    def given_back(self) -> bool:
        """Whether a visiting card left the production, and nobody had it here since."""
        given = self.holder
        if given is None or not self.visiting or self.opened is not None:
            return False
        if not (given.outside or given.place == "rental house"):
            return False
        done = [roll.closed for roll in self.closed_rolls() if roll.closed is not None]
        done += [self.last_format.at] if self.last_format is not None else []
        return max(done, default=START) <= moment(given)

    def fork(self) -> CardState:
        """A state that may be changed while this one stays as it is."""
        return replace(
            self,
            rolls=dict(self.rolls),
            by_name=dict(self.by_name),
            begun_last=dict(self.begun_last),
            under_way=dict(self.under_way),
            mishaps=dict(self.mishaps),
            _mine=set(),
        )

    def edit(self, roll_id: str) -> Roll:
        """The roll, to be changed: a copy of it if an earlier state has it too."""
        if roll_id not in self._mine:
            self._mine.add(roll_id)
            self.rolls[roll_id] = self.rolls[roll_id].fork()
        return self.rolls[roll_id]

    def changed(self) -> frozenset[str]:
        """The rolls that were added or changed since this state was forked or read."""
        return frozenset(self._mine)

    def add(self, roll: Roll) -> Roll:
        """Put a new roll on the card."""
        roll.position = self.opened_rolls
        self.opened_rolls += 1
        self.rolls[roll.id] = roll
        self._mine.add(roll.id)
        self.held = (*self.held, roll.id)
        self.call(roll, roll.name)
        return roll

    def call(self, roll: Roll, name: str) -> None:
        """Let a roll answer to a name."""
        known = self.by_name.get(name, ())
        if roll.id not in known:
            self.by_name[name] = (*known, roll.id)

    def named(self, name: str | None, roll_id: str | None = None) -> Roll | None:
        """The roll of an id, else of all that answer to a name the one opened last."""
        if roll_id is not None:
            return self.rolls.get(roll_id)
        if name is None or name not in self.by_name:
            return None
        rolls = [self.rolls[i] for i in self.by_name[name]]
        return rolls[0] if len(rolls) == 1 else max(rolls, key=lambda r: (r.opened, r.loaded))

    def name_of(self, roll_id: str) -> str | None:
        """The latest of its names by which a fact means this roll; None if each means another."""
        for name in reversed(self.rolls[roll_id].names):
            meant = self.named(name)
            if meant is not None and meant.id == roll_id:
                return name
        return None

    def closed_rolls(self) -> list[Roll]:
        """The rolls on the card that are not in a camera, in the order of opening."""
        return [self.rolls[i] for i in self.held if i != self.opened]

    def all_closed(self) -> Iterator[Roll]:
        """Every roll it ever held that is not in a camera now."""
        return (roll for roll in self.rolls.values() if roll.closed is not None)

    def open_roll(self) -> Roll | None:
        """The roll that is being shot."""
        return None if self.opened is None else self.rolls[self.opened]

    def mishap(
        self, fact: str, kind: str, roll: str | None = None, drive: str | None = None
    ) -> None:
        """A fact breaks a rule. One that was settled stands again if it is made again."""
        key = MishapKey(fact, kind, roll, drive)
        self.mishaps[key] = Mishap(key)
