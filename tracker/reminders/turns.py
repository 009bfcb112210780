"""Spells and turns: what goes out now, given what was decided before. Pure, over plain values.

A spell is one unbroken stretch in which a condition holds. Its anchor and its rhythm are frozen
when it opens: no refold and no setting moves them. Turn k of a spell comes at anchor + delay +
k * repeat, by the clock; each is decided once for each recipient and channel, by its key.

Nothing here reads a clock. When the clock of the service is set back, nothing goes a second time;
when it jumps, the turns that it skipped are one message, which says how many they were.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta, tzinfo
from typing import NamedTuple

from tracker.domain.mishaps import Severity
from tracker.reminders.rules import Condition

CONTINUES = timedelta(minutes=15)
"""A condition that opens again within this continues its spell; an all-clear waits for it."""


class SpellKey(NamedTuple):
    """Which spell: the number-th of a condition, counted from 1."""

    subject: str
    rule: str
    number: int


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch in which a condition holds.

    opened: when it was first seen. anchor: when it was due, frozen; delay, repeat, all_clear: as
    the rule had them then. gone: since when it no longer holds; None while it does. ended: when
    it was seen that it cannot be continued any more; from then on nothing changes it.
    """

    key: SpellKey
    severity: Severity
    opened: datetime
    anchor: datetime
    delay: timedelta
    repeat: timedelta | None
    all_clear: bool = True
    gone: datetime | None = None
    ended: datetime | None = None

    @property
    def condition(self) -> tuple[str, str]:
        """The condition that it is a spell of."""
        return self.key.subject, self.key.rule

    def at(self, turn: int) -> datetime | None:
        """When a turn comes, counted from 0; None if there is none."""
        if turn and self.repeat is None:
            return None
        return self.anchor + self.delay + turn * (self.repeat or timedelta(0))

    def newest(self, now: datetime) -> int | None:
        """The newest turn that has come; None if none has."""
        since = now - (self.anchor + self.delay)
        if since < timedelta(0):
            return None
        return 0 if self.repeat is None else since // self.repeat


class TurnKey(NamedTuple):
    """What is decided once: this turn of this spell for this recipient by this channel."""

    spell: SpellKey
    to: str
    channel: str
    turn: int


@dataclass(frozen=True, slots=True)
class Turn:
    """A decision: this goes out. at: when its time came. collapsed: turns skipped for it."""

    key: TurnKey
    at: datetime
    decided: datetime
    collapsed: range = range(0)


@dataclass(frozen=True, slots=True)
class Snooze:
    """Somebody holds a condition back for a while. subject, rule: None means any."""

    owner: str
    reason: str
    until: datetime
    subject: str | None = None
    rule: str | None = None

    def holds_back(self, condition: tuple[str, str], now: datetime) -> bool:
        """Whether nothing goes out about a condition now."""
        wanted = zip((self.subject, self.rule), condition, strict=True)
        return now < self.until and all(own in (None, one) for own, one in wanted)


@dataclass(frozen=True, slots=True)
class Quiet:
    """Hours in which somebody is left alone, by their wall clock; over midnight if end < start.

    pierced: whether danger goes through all the same.
    """

    start: time
    end: time
    zone: tzinfo
    pierced: bool = True

    def holds_back(self, severity: Severity, now: datetime) -> bool:
        """Whether a notice waits until they are over."""
        if severity == "danger" and self.pierced:
            return False
        clock = now.astimezone(self.zone).time()
        if self.start <= self.end:
            return self.start <= clock < self.end
        return clock >= self.start or clock < self.end


def follow(
    spells: Sequence[Spell], conditions: Mapping[tuple[str, str], Condition], now: datetime
) -> list[Spell]:
    """The spells as they stand now, given those that were known and all that rules speak of.

    conditions: by key, those that are not due yet too. The last spell of a condition that holds
    goes on, or a new one opens.
    """
    seen = [_seen(spell, conditions.get(spell.condition), now) for spell in spells]
    last: dict[tuple[str, str], Spell] = {}
    for spell in seen:
        before = last.get(spell.condition)
        if before is None or spell.key.number > before.key.number:
            last[spell.condition] = spell
    for key, condition in conditions.items():
        before = last.get(key)
        if condition.holds(now) and (before is None or before.ended is not None):
            seen.append(_opened(condition, 1 if before is None else before.key.number + 1, now))
    return seen


def _seen(spell: Spell, condition: Condition | None, now: datetime) -> Spell:
    """A spell as it goes on, or comes to its end.

    Before the moment at which it opened nothing new can be seen of it: the clock was set back.
    """
    if spell.ended is not None:
        return spell
    if spell.gone is not None and now - spell.gone >= CONTINUES:
        return replace(spell, ended=now)
    if _goes_on(spell, condition, now):
        return replace(spell, gone=None)
    if spell.gone is None and now < spell.opened:
        return spell
    return replace(spell, gone=now if spell.gone is None else min(spell.gone, now))


def _goes_on(spell: Spell, condition: Condition | None, now: datetime) -> bool:
    """Whether a condition still holds, as far as that can be told by a clock that was set back."""
    if condition is None:
        return False
    if condition.due is None:
        return now < spell.opened
    return condition.holds(max(now, spell.opened))


def _opened(condition: Condition, number: int, now: datetime) -> Spell:
    assert condition.due is not None, "a condition that is not due has no spell"
    return Spell(
        SpellKey(*condition.key, number),
        condition.severity,
        opened=now,
        anchor=condition.due,
        delay=condition.delay,
        repeat=condition.repeat,
        all_clear=condition.all_clear,
    )


def next_turn(
    spell: Spell, to: str, channel: str, decided: Collection[int], now: datetime
) -> Turn | None:
    """The turn that goes to a recipient now; None if there is none.

    decided: turns of this spell that were decided for them by this channel, collapsed ones too.
    Only the newest that has come goes; those before it that were never decided collapse into it.
    """
    newest = spell.newest(now)
    if spell.gone is not None or newest is None:
        return None
    latest = max(decided, default=-1)
    if newest <= latest:
        return None
    at = spell.at(newest)
    assert at is not None
    key = TurnKey(spell.key, to, channel, newest)
    return Turn(key, at, now, range(latest + 1, newest))


def held_back(
    spell: Spell,
    condition: Condition,
    now: datetime,
    snoozes: Iterable[Snooze] = (),
    quiet: Quiet | None = None,
) -> bool:
    """Whether a turn waits: for the end of a snooze or of quiet hours, or for working hours.

    It is not skipped: it is decided when nothing holds it back any more, if it still holds then.
    """
    if not condition.may_go or (quiet is not None and quiet.holds_back(spell.severity, now)):
        return True
    return any(snooze.holds_back(spell.condition, now) for snooze in snoozes)


def go_out(
    spells: Iterable[Spell],
    conditions: Mapping[tuple[str, str], Condition],
    recipients: Mapping[tuple[str, str], Iterable[tuple[str, str]]],
    decided: Mapping[tuple[SpellKey, str, str], Collection[int]],
    now: datetime,
    *,
    snoozes: Sequence[Snooze] = (),
    quiet: Mapping[str, Quiet] | None = None,
) -> list[Turn]:
    """Every turn that goes out now; notes are left to the lists of the morning.

    recipients: of each condition, who is told, each with a channel.
    """
    found = []
    for spell in spells:
        condition = conditions.get(spell.condition)
        if condition is None or spell.gone is not None or spell.severity == "note":
            continue
        for to, channel in recipients.get(spell.condition, ()):
            if held_back(spell, condition, now, snoozes, (quiet or {}).get(to)):
                continue
            turn = next_turn(spell, to, channel, decided.get((spell.key, to, channel), ()), now)
            if turn is not None:
                found.append(turn)
    return found


def all_clear(
    spell: Spell, told: Iterable[tuple[str, str]], cleared: Collection[tuple[str, str]]
) -> list[tuple[str, str]]:
    """Who hears now that a spell has ended: whoever was told of it, once.

    told: to whom a turn of it went, each with the channel. cleared: who heard of its end already.
    """
    if not spell.all_clear or spell.ended is None:
        return []
    return [one for one in dict.fromkeys(told) if one not in cleared]
