"""Small books of our own: what must be decided, told and left, worked out without the rules.

It imports nothing of the project. It knows two rules by what the crew was promised of them:

    exposed     a card that was pulled and is not copied; due 2 hours after the pull, told to the
                loader, again every 2 hours
    missing     a card that nobody finds, with footage that is not copied; due at once, danger,
                told to loader, data manager and production office, again every 12 hours

A spell goes on when the condition comes back within 15 minutes; its end is told once to those who
were told of it. Turns come at due + k * repeat. Nobody snoozes danger here.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

EXPOSED, MISSING = "exposed too long", "missing with footage"
AFTER = {EXPOSED: timedelta(hours=2), MISSING: timedelta(0)}
REPEAT = {EXPOSED: timedelta(hours=2), MISSING: timedelta(hours=12)}
WHO = {EXPOSED: ("Lee",), MISSING: ("Kim", "Lee", "Noor")}
CHANNELS = ("page", "mail")
A_QUARTER = timedelta(minutes=15)

Key = tuple[str, str, str]
"""A card, a roll (none of a missing card: it is the card that is missing), a rule."""
Way = tuple[str, str]
"""A person's name, a channel."""
Decided = tuple[Key, int, Way, int, int]
"""A key, the number of its spell, a way, a turn, the first turn that it stands for."""


@dataclass
class Spell:
    number: int
    opened: datetime
    due: datetime
    gone: datetime | None = None
    ended: datetime | None = None
    latest: dict[Way, int] = field(default_factory=dict)


@dataclass
class Card:
    """roll: what is on it and not copied; pulled: when; lost: since when nobody finds it."""

    roll: str | None = None
    pulled: datetime | None = None
    lost: datetime | None = None


@dataclass
class Oracle:
    cards: dict[str, Card]
    spells: dict[Key, list[Spell]] = field(default_factory=dict)
    decided: set[Decided] = field(default_factory=set)
    snoozed_until: datetime | None = None

    def spoken_of(self) -> dict[Key, datetime]:
        """What stands, and from when it is due."""
        found = {}
        for label, card in self.cards.items():
            if card.roll is None or card.pulled is None:
                continue
            if card.lost is None:
                found[label, card.roll, EXPOSED] = card.pulled + AFTER[EXPOSED]
            else:
                found[label, "", MISSING] = card.lost + AFTER[MISSING]
        return found

    def tick(self, now: datetime) -> None:
        """What a tick at that time must decide."""
        stands = self.spoken_of()
        for key, spells in self.spells.items():
            self._go_on(spells[-1], stands.get(key), now)
        for key, due in stands.items():
            known = self.spells.setdefault(key, [])
            if due <= now and (not known or known[-1].ended is not None):
                known.append(Spell(len(known) + 1, now, due))
        self.spells = {key: spells for key, spells in self.spells.items() if spells}
        for key in stands:
            for spell in self.spells.get(key, ())[-1:]:
                self._turns(key, spell, now)

    def _go_on(self, spell: Spell, due: datetime | None, now: datetime) -> None:
        if spell.ended is not None:
            return
        if spell.gone is not None and now - spell.gone >= A_QUARTER:
            spell.ended = now
        elif due is not None and due <= max(now, spell.opened):
            spell.gone = None
        elif spell.gone is not None:
            spell.gone = min(spell.gone, now)
        elif now >= spell.opened:
            spell.gone = now

    def _turns(self, key: Key, spell: Spell, now: datetime) -> None:
        rule = key[2]
        if spell.gone is not None or spell.ended is not None or now < spell.due:
            return
        if rule == EXPOSED and self.snoozed_until is not None and now < self.snoozed_until:
            return
        turn = (now - spell.due) // REPEAT[rule]
        for way in ways(rule):
            latest = spell.latest.get(way, -1)
            if turn > latest:
                spell.latest[way] = turn
                self.decided.add((key, spell.number, way, turn, latest + 1))

    # What must be true of a letter

    def may_be_told(self, told: Told, way: Way, now: datetime) -> None:
        """Whether everything in a letter may be said now, to them."""
        for key in told.things:
            due = self.spoken_of().get(key)
            assert due is not None, f"{key} is settled, and was told of"
            spell = self.spells[key][-1]
            assert spell.ended is None and way in spell.latest, f"nobody decided {key} for {way}"
            assert self._can_be_told(due, spell, now), f"{key} is not due"
        for label, rule in told.settled:
            mine = [(k, s) for k, s in self.spells.items() if (k[0], k[2]) == (label, rule)]
            assert any(one.ended and way in one.latest for _, some in mine for one in some)
            open_now = [k for k, some in mine if some[-1].gone is None and some[-1].ended is None]
            assert not any(key in self.spoken_of() for key in open_now if len(mine) == 1)

    def _can_be_told(self, due: datetime, spell: Spell, now: datetime) -> bool:
        """A clock before the spell opened was set back, and says nothing of what is due."""
        return due <= now or now < spell.opened

    def is_to_be_told(self, decided: Decided) -> bool:
        """Whether a notice may not be dropped: it goes on, and no newer one was decided."""
        key, number, way, turn, _ = decided
        spell = self.spells[key][-1]
        return spell.number == number and spell.ended is None and spell.latest[way] == turn

    def goes_now(self, decided: Decided, now: datetime) -> bool:
        """Whether a notice holds now, and nobody holds it back."""
        key, *_ = decided
        due, spell = self.spoken_of().get(key), self.spells[key][-1]
        if due is None or not self._can_be_told(due, spell, now):
            return False
        return key[2] != EXPOSED or self.snoozed_until is None or now >= self.snoozed_until


def ways(rule: str) -> list[Way]:
    return [(name, channel) for name in WHO[rule] for channel in CHANNELS]


@dataclass(frozen=True)
class Told:
    """What a letter says: of which conditions, and of whose end."""

    things: frozenset[Key]
    settled: frozenset[tuple[str, str]]
    doubled: bool


SHOT = re.compile(r"^(S-\d+) was shot \((\w+)\)", re.MULTILINE)
LOST = re.compile(r"^DANGER\. (S-\d+) has been missing since .*?, with \w+", re.MULTILINE)
OVER = re.compile(r"^- (S-\d+): (.+)$", re.MULTILINE)


def read(body: str) -> Told:
    """What a letter says, by its words."""
    things: Counter[Key] = Counter(_things(body))
    settled = OVER.findall(body)
    twice = max([*things.values(), 1]) > 1 or len(settled) != len(set(settled))
    return Told(frozenset(things), frozenset(settled), twice)


def _things(body: str) -> Iterator[Key]:
    for label, roll in SHOT.findall(body):
        yield label, roll, EXPOSED
    for label in LOST.findall(body):
        yield label, "", MISSING
