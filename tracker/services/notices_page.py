"""What the pages of the reminders show: what is owed, what went out, what the rules would say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from tracker.reminders.deciding import Books, alone_until, holder_of, note_time, people_for
from tracker.reminders.limits import Limits, Own
from tracker.reminders.notices import heartbeat, read_books, read_settings
from tracker.reminders.rules import BY_NAME, RULES, Condition, Rule, as_set
from tracker.reminders.settings import Settings, from_json
from tracker.reminders.sight import Sight, look
from tracker.reminders.turns import Quiet, Snooze, Spell, SpellKey
from tracker.services.service import Service
from tracker.store import notice_lists as lists

ORDER = ("danger", "warning", "note")


@dataclass(frozen=True, slots=True)
class Owed:
    """Something that stands, and of which people are told.

    spell: its id, by which somebody says that they have it; None before the next tick. to: the
    names of who is told. told: how many notices of it were due by now, those that were skipped
    too. next: when the next notice comes; None if none does. holder: who has it, and has_since.
    alone: whether nobody else is told, since they have it; alone_until: how long that lasts, of a
    danger. snooze: what holds it back. waits: why its next notice does not go at its time, in
    words. gone_on: roles to which it went on, since nobody answered. card: the label of the card
    that it is of; None where it is of none.
    """

    spell: str | None
    condition: Condition
    to: tuple[str, ...]
    told: int
    next: datetime | None
    holder: str | None
    has_since: datetime | None
    alone: bool
    alone_until: datetime | None
    snooze: Snooze | None
    waits: str
    gone_on: tuple[str, ...]
    card: str | None


@dataclass(frozen=True, slots=True)
class OwedPage:
    """Everything that is owed, danger first, then the oldest. alive: whether the clock runs."""

    owed: tuple[Owed, ...]
    alive: bool
    last_tick: datetime | None
    error: str | None


def owed(service: Service, now: datetime | None = None) -> OwedPage:
    """What is owed, by whom, since when, and when the next notice comes. Errors: NotSetUp."""
    at = service.clock() if now is None else now
    beat = heartbeat(service, at)
    with service.store.reading() as conn:
        books, ids, sight = _books(service, conn, at, beat.last or at)
        held = lists.held(conn)
        labels = lists.labels(conn, (_card_of(one) for one in sight.conditions.values()))
    spells = {spell.condition: spell for spell in books.spells if spell.ended is None}
    newest = _newest(books)
    found = [
        _owed(books, one, spells.get(one.key), newest, ids, held, labels, at)
        for one in sight.conditions.values()
        if one.holds(at)
    ]
    found.sort(key=lambda o: (ORDER.index(o.condition.severity), o.condition.due or at))
    return OwedPage(tuple(found), beat.alive, beat.last, beat.error)


def _books(
    service: Service, conn: Connection, at: datetime, begun: datetime
) -> tuple[Books, Mapping[SpellKey, str], Sight]:
    settings = read_settings(conn)
    sight = look(service, conn, at, settings.chosen)
    books, ids = read_books(conn, settings, at, begun, sight)
    return books, ids, sight


def _owed(
    books: Books,
    condition: Condition,
    spell: Spell | None,
    newest: Mapping[SpellKey, int],
    ids: Mapping[SpellKey, str],
    held: Mapping[str, Any],
    labels: Mapping[str, str],
    at: datetime,
) -> Owed:
    snooze = next((s for s in books.snoozes if s.holds_back(condition.key, at)), None)
    spell_id = None if spell is None else ids[spell.key]
    turn = None if spell is None else newest.get(spell.key)
    holding = held.get(spell_id or "")
    gone_on = () if spell is None else books.escalated.get(spell.key, ())
    people = people_for(books, (*condition.who, *gone_on), condition.person)
    alone = None if spell is None else holder_of(books, spell, at)
    if alone is not None:
        people = [person for person in books.people if person.id == alone]
    quiet = _all_quiet(books, [person.id for person in people], condition, at)
    return Owed(
        spell=spell_id,
        condition=condition,
        to=tuple(person.name for person in people),
        told=0 if turn is None else turn + 1,
        next=_next(books, condition, spell, turn, at),
        holder=None if holding is None else holding.name,
        has_since=None if holding is None else holding.since,
        alone=alone is not None,
        alone_until=_alone_until(books, condition, spell),
        snooze=snooze,
        waits=_waits(condition, snooze, quiet=quiet),
        gone_on=gone_on,
        card=labels.get(_card_of(condition)),
    )


def _card_of(condition: Condition) -> str:
    """The id of the card of which something is; "" where it is of none."""
    kind, _, rest = condition.subject.partition("/")
    return rest.partition("/")[0] if kind in ("card", "roll") else ""


def _alone_until(books: Books, condition: Condition, spell: Spell | None) -> datetime | None:
    held = None if spell is None else books.held.get(spell.key)
    return None if held is None or condition.severity != "danger" else alone_until(books, held)


def _newest(books: Books) -> dict[SpellKey, int]:
    """The newest turn of each spell that was decided for anybody."""
    newest: dict[SpellKey, int] = {}
    for (key, _, _), (turn, _) in books.latest.items():
        newest[key] = max(turn, newest.get(key, turn))
    return newest


def _next(
    books: Books, condition: Condition, spell: Spell | None, newest: int | None, at: datetime
) -> datetime | None:
    """When the next notice comes, if nothing holds it back."""
    if condition.severity == "note":
        return note_time(books, at)
    if spell is None:
        return at
    return spell.at(0 if newest is None else newest + 1)


def _all_quiet(books: Books, people: Sequence[str], condition: Condition, at: datetime) -> bool:
    """Whether everybody who is told is left alone at this hour."""

    def quiet(person: str) -> bool:
        hours = books.settings.quiet_for(person)
        return hours is not None and Quiet(
            hours.start, hours.end, books.zone, hours.pierced
        ).holds_back(condition.severity, at)

    return bool(people) and all(quiet(person) for person in people)


def _waits(condition: Condition, snooze: Snooze | None, *, quiet: bool) -> str:
    if snooze is not None:
        return f"held back: {snooze.reason}"
    if condition.severity == "note":
        return "for the list of the morning"
    if not condition.may_go:
        return "for working hours"
    return "for the end of quiet hours" if quiet else ""


# What went out


@dataclass(frozen=True, slots=True)
class Item:
    """One thing in a message. notice: which notice of it, from 1; None for an end or a list.

    stands_for: earlier notices that it took the place of. offered: whether it was still told of
    when the message was handed on.
    """

    about: str
    rule: str
    notice: int | None
    stands_for: int
    offered: bool


@dataclass(frozen=True, slots=True)
class Message:
    """A message, with how it stands. unsure: a try of it had no answer, so it may have arrived."""

    id: str
    person: str
    channel: str
    made_at: datetime
    state: str
    danger: bool
    attempts: int
    next_try: datetime | None
    sent_at: datetime | None
    unsure: bool
    error: str | None
    title: str | None
    body: str | None
    items: tuple[Item, ...]


def states(service: Service) -> dict[str, int]:
    """How many messages are in each state."""
    with service.store.reading() as conn:
        return lists.by_state(conn)


def outbox(
    service: Service,
    *,
    person: str | None = None,
    channel: str | None = None,
    states: Sequence[str] = (),
    first: int = 0,
    at_most: int = 200,
) -> list[Message]:
    """What went out and what is on its way, the newest first.

    person: by id, only theirs. states: only in these, none is any. first: so many are passed over.
    """
    with service.store.reading() as conn:
        found = lists.messages(conn, person, channel, at_most, states, first)
        ids = [row.id for row in found]
        turns, ends = lists.turns(conn, ids), lists.ends(conn, ids)
    items: dict[str, list[Item]] = {}
    for row in turns:
        items.setdefault(row.message, []).append(_item(row))
    for row in ends:
        items.setdefault(row.message, []).append(Item(row.about, row.rule, None, 0, offered=True))
    return [
        Message(
            row.id, row.name, row.channel, row.made_at, row.state, bool(row.danger), row.attempts,
            row.next_try, row.sent_at, bool(row.unsure), row.error, row.title, row.body,
            tuple(items.get(row.id, ())),
        )
        for row in found
    ]  # fmt: skip


def _item(row: Any) -> Item:
    if row.severity == "note":
        return Item(row.about, row.rule, None, 0, bool(row.offered))
    return Item(row.about, row.rule, row.turn + 1, row.turn - row.first, bool(row.offered))


# The rules


@dataclass(frozen=True, slots=True)
class RuleNow:
    """A rule as it stands, and what it says today. own: what single units set otherwise."""

    rule: Rule
    own: Mapping[str, Own]
    says: tuple[Condition, ...]
    coming: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class WasSet:
    """What was set, by whom and when. by: None for whoever has the data folder."""

    version: int
    made_at: datetime
    by: str | None
    said: Mapping[str, Any]


def rules(
    service: Service, now: datetime | None = None, said: Mapping[str, Any] | None = None
) -> list[RuleNow]:
    """Every rule with what it says today; with other settings, if some are given, unsaved.

    A rule that is off says what it would say if it were on. Errors: NotSetUp, BadSetting.
    """
    at = service.clock() if now is None else now
    with service.store.reading() as conn:
        settings = read_settings(conn) if said is None else from_json(said)
        sight = look(service, conn, at, _all_on(settings).chosen)
    limits = settings.chosen.production
    found = []
    for rule in RULES:
        mine = [one for one in sight.conditions.values() if one.rule == rule.name]
        own = {unit: some.rules[rule.name] for unit, some in settings.chosen.units.items()
               if some.rules.get(rule.name) not in (None, limits.rules.get(rule.name))}  # fmt: skip
        says = tuple(one for one in mine if one.holds(at))
        coming = tuple(one for one in mine if not one.holds(at))
        found.append(RuleNow(as_set(rule, limits.rules.get(rule.name)), own, says, coming))
    return found


def not_told(service: Service) -> list[RuleNow]:
    """The rules that are off while something stands of which they would speak, danger first."""
    found = [one for one in rules(service) if not one.rule.on and one.says]
    return sorted(found, key=lambda one: ORDER.index(one.rule.severity))


def _all_on(settings: Settings) -> Settings:
    """The same settings with every rule on."""

    def on(limits: Limits) -> Limits:
        rules = {name: replace(limits.rules.get(name, Own()), on=True) for name in BY_NAME}
        return replace(limits, rules=rules)

    chosen = settings.chosen
    units = {unit: on(limits) for unit, limits in chosen.units.items()}
    return replace(settings, chosen=replace(chosen, production=on(chosen.production), units=units))


def settings(service: Service) -> Settings:
    """What is set."""
    with service.store.reading() as conn:
        return read_settings(conn)


def history(service: Service) -> list[WasSet]:
    """What was set before, the newest first."""
    with service.store.reading() as conn:
        return [WasSet(row.version, row.made_at, row.name, row.said) for row in lists.history(conn)]


@dataclass(frozen=True, slots=True)
class HeldBack:
    """A snooze that is in force. about: the name of what it is of; None where that is not known."""

    id: str
    owner: str
    reason: str
    until: datetime
    made_at: datetime
    subject: str | None
    rule: str | None
    about: str | None


def snoozes(service: Service, now: datetime | None = None) -> list[HeldBack]:
    """What is held back, what runs out first in front."""
    at = service.clock() if now is None else now
    with service.store.reading() as conn:
        return [HeldBack(**row._mapping) for row in lists.snoozes(conn, at)]


@dataclass(frozen=True, slots=True)
class Way:
    """By what somebody is told besides the page."""

    person: str
    name: str
    role: str
    channel: str
    address: str
    active: bool


def ways(service: Service) -> list[Way]:
    """Every channel of everybody, by name."""
    with service.store.reading() as conn:
        return [Way(**row._mapping) for row in lists.ways(conn)]
