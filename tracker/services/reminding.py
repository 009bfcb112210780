"""What people are to be reminded of at a moment, from the journal: looked at, nothing is sent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from tracker.domain.facts import CameraSet, DriveRegistered, Fact, Registered, RuleSet, moment
from tracker.domain.fold import Production, fold_production
from tracker.reminders.found import Role
from tracker.reminders.limits import Chosen
from tracker.reminders.rules import RULES, Condition, due
from tracker.reminders.seen import see
from tracker.reminders.turns import Spell, follow
from tracker.services import people_list
from tracker.services.service import Service, production_row
from tracker.store.journal import every_fact

DESCRIBES = (Registered, DriveRegistered)
"""Facts that count from the start, whenever they were logged."""


@dataclass(frozen=True, slots=True)
class Due:
    """A condition whose time has come. turn: its newest notice, from 0. at: when that came."""

    condition: Condition
    turn: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Message:
    """What one role would get at a moment, in one message: danger first, then the oldest.

    people: who they are, by name. waiting: what waits for working hours. morning: what stands on
    the next list of the morning.
    """

    to: Role
    people: tuple[str, ...]
    now: tuple[Due, ...]
    waiting: tuple[Due, ...]
    morning: tuple[Due, ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """What would go out at a moment. morning_list: when the list of the morning goes."""

    at: datetime
    zone: ZoneInfo
    morning_list: time
    messages: tuple[Message, ...]


def zone_of(service: Service) -> ZoneInfo:
    """The production's time zone."""
    with service.store.reading() as conn:
        return ZoneInfo(production_row(conn).time_zone)


def would_go_out(service: Service, at: datetime, chosen: Chosen | None = None) -> Preview:
    """What would go out at a moment, to whom and why.

    It is judged by all that is known by now of what had happened by then. Nothing is kept of what
    went out before, so that each condition that is open is in it, with its newest notice.
    """
    chosen = chosen or Chosen()
    production = production_at(service, at)
    seen = see(production, at, chosen)
    spoken_of = {c.key: c for rule in RULES for c in due(seen, rule, at)}
    found = [
        Due(spoken_of[spell.condition], turn, came)
        for spell in follow([], spoken_of, at)
        for turn, came in _newest(spell, at)
    ]
    zone = production.context.zone
    assert isinstance(zone, ZoneInfo)
    return Preview(at, zone, chosen.production.morning_list, tuple(_messages(service, found)))


def _newest(spell: Spell, at: datetime) -> Iterator[tuple[int, datetime]]:
    turn = spell.newest(at)
    came = None if turn is None else spell.at(turn)
    if turn is not None and came is not None:
        yield turn, came


def _messages(service: Service, found: Iterable[Due]) -> Iterator[Message]:
    """What was found, by the roles that are told."""
    order = ("danger", "warning", "note")
    sort = sorted(found, key=lambda d: (order.index(d.condition.severity), d.at, d.condition.key))
    names: dict[str, list[str]] = {}
    for person in people_list.everybody(service):
        names.setdefault(person.role, []).append(person.name)
    for role in dict.fromkeys(role for one in sort for role in one.condition.who):
        mine = [one for one in sort if role in one.condition.who]
        notes = [one for one in mine if one.condition.severity == "note"]
        told = [one for one in mine if one not in notes]
        yield Message(
            role,
            tuple(names.get(role, ())),
            now=tuple(one for one in told if one.condition.may_go),
            waiting=tuple(one for one in told if not one.condition.may_go),
            morning=tuple(notes),
        )


def production_at(service: Service, at: datetime) -> Production:
    """The production as it was at a moment, by all that is known now."""
    with service.store.reading() as conn:
        row = production_row(conn)
        facts = [fact for _, fact in every_fact(conn)]
    return fold_production(
        happened_by(facts, at),
        zone=ZoneInfo(row.time_zone),
        day_starts=time.fromisoformat(row.day_starts),
    )


def happened_by(facts: Iterable[Fact], at: datetime) -> list[Fact]:
    """The facts that had happened by a moment.

    With what describes cards and drives, the first backup rule, and cameras as they were first
    described: a list that was typed in late tells what was there from the start.
    """
    first: dict[str, str] = {}
    known = sorted(facts, key=moment)
    for fact in known:
        if name := _describes(fact):
            first.setdefault(name, fact.id)
    return [
        fact
        for fact in known
        if fact.occurred_at <= at
        or isinstance(fact, DESCRIBES)
        or first.get(_describes(fact)) == fact.id
    ]


def _describes(fact: Fact) -> str:
    """What a fact describes whose first description counts from the start; "" for all others."""
    if isinstance(fact, CameraSet):
        return f"camera {fact.letters}"
    return "rule" if isinstance(fact, RuleSet) and fact.rolls == "main" else ""
