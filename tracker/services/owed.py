"""What is owed, by whom and since when, as the page of the reminders shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta, tzinfo
from typing import Any

from sqlalchemy import Connection

from tracker.reminders.deciding import people_for
from tracker.reminders.digests import day_of_list
from tracker.reminders.limits import Chosen, Limits, Own
from tracker.reminders.notices import Heartbeat, heartbeat, read_books, read_settings
from tracker.reminders.rules import RULES, Condition, Rule, as_set, due
from tracker.reminders.settings import QuietHours, Settings
from tracker.reminders.sight import look, seen_now
from tracker.reminders.turns import Spell
from tracker.services.people import Person
from tracker.services.service import Service
from tracker.store import notice_lists
from tracker.store.reminder_rows import clock

_ORDER = ("danger", "warning", "note")
MOST_KEPT = 50
"""So many times that it was set are shown."""


@dataclass(frozen=True, slots=True)
class Owed:
    """One thing that is owed.

    spell: its id; None where no tick has seen it yet. since: when it began. told: who is told,
    by name. next: when the next notice goes, None if none does. waits: why it does not go at its
    time; None if it does. has: who has it, has_since when they said so. mine: it comes to whoever
    asks.
    """

    condition: Condition
    spell: str | None
    told: tuple[str, ...]
    next: datetime | None
    waits: str | None
    has: str | None
    has_since: datetime | None
    has_it: bool
    mine: bool


@dataclass(frozen=True, slots=True)
class Page:
    """All that is owed: danger first. notes: what waits for the list of the morning, at `morning`.

    later: what is held back by people. clock: whether the reminders run. offers: shifts that
    whoever asks is to accept.
    """

    things: tuple[Owed, ...]
    notes: tuple[Owed, ...]
    morning: datetime | None
    later: tuple[Mapping[str, Any], ...]
    clock: Heartbeat
    offers: tuple[Mapping[str, Any], ...]


def owed(service: Service, who: Person) -> Page:
    """What is owed now, as whoever is signed in sees it."""
    now = service.clock()
    with service.store.reading() as conn:
        settings = read_settings(conn)
        things = _things(service, conn, who, settings, now)
        later = tuple(notice_lists.snoozes(conn, now))
        offers = tuple(notice_lists.offered_to(conn, who.id))
    return Page(
        things=tuple(one for one in things if one.condition.severity != "note"),
        notes=tuple(one for one in things if one.condition.severity == "note"),
        morning=next((one.next for one in things if one.condition.severity == "note"), None),
        later=later,
        clock=heartbeat(service, now),
        offers=offers,
    )


def _things(
    service: Service, conn: Connection, who: Person, settings: Settings, now: datetime
) -> list[Owed]:
    sight = look(service, conn, now, settings.chosen)
    begun = clock(conn)
    books, ids = read_books(conn, settings, now, begun.begun_at if begun else now, sight)
    spells = {spell.condition: spell for spell in books.spells if spell.ended is None}
    having = notice_lists.held(conn)
    held_back = notice_lists.snoozes(conn, now)
    morning = _morning(settings.chosen.production.morning_list, books.zone, now)
    found = []
    for condition in sight.conditions.values():
        if not condition.holds(now):
            continue
        spell = spells.get(condition.key)
        spell_id = None if spell is None else ids[spell.key]
        has = having.get(spell_id or "")
        more = () if spell is None else books.escalated.get(spell.key, ())
        told = people_for(books, (*condition.who, *more), condition.person)
        if has is not None:
            told = [person for person in books.people if person.id == has.person]
        note = condition.severity == "note"
        found.append(
            Owed(
                condition=condition,
                spell=spell_id,
                told=tuple(person.name for person in told),
                next=morning if note else _next(spell, condition, now),
                waits=_waits(condition, held_back),
                has=None if has is None else has.name,
                has_since=None if has is None else has.since,
                has_it=has is not None and has.person == who.id,
                mine=any(person.id == who.id for person in told),
            )
        )
    return sorted(found, key=lambda one: (_ORDER.index(one.condition.severity), not one.mine,
                                          one.condition.since, one.condition.key))  # fmt: skip


def _morning(at: time, zone: tzinfo, now: datetime) -> datetime:
    """When the next list of the morning goes."""
    return datetime.combine(day_of_list(now, at, zone) + timedelta(days=1), at, zone)


def _next(spell: Spell | None, condition: Condition, now: datetime) -> datetime | None:
    if spell is None:
        return None if condition.due is None else max(now, condition.due + condition.delay)
    newest = spell.newest(now)
    return spell.at(0 if newest is None else newest + 1)


def _waits(condition: Condition, snoozes: Any) -> str | None:
    """Why nothing goes out about it at its time."""
    for row in snoozes:
        wanted = zip((row["subject"], row["rule"]), condition.key, strict=True)
        if all(own in (None, one) for own, one in wanted):
            return f"{row['name']} holds it back: {row['reason']}"
    if condition.may_go or condition.severity == "note":
        return None
    return "it waits for working hours"


# The rules


@dataclass(frozen=True, slots=True)
class AsSet:
    """A rule as it is set. today: what it would say now. usual: as it is where nobody set it."""

    rule: Rule
    usual: Rule
    today: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class RulesPage:
    """Every rule, and how the reminders are set. history: when that was changed, and by whom."""

    rules: tuple[AsSet, ...]
    settings: Settings
    history: Sequence[Any]


def rules(service: Service) -> RulesPage:
    """Every rule with its limits, and what each would say today, were it on."""
    now = service.clock()
    with service.store.reading() as conn:
        settings = read_settings(conn)
        seen = seen_now(service, conn, now, _all_on(settings.chosen))
        history = notice_lists.settings_said(conn, MOST_KEPT)
    own = settings.chosen.production.rules
    return RulesPage(
        tuple(
            AsSet(
                as_set(rule, own.get(rule.name)),
                rule,
                tuple(one for one in due(seen, rule, now) if one.holds(now)),
            )
            for rule in RULES
        ),
        settings,
        history,
    )


def _all_on(chosen: Chosen) -> Chosen:
    """As it is set, but that every rule is on."""

    def on(limits: Limits) -> Limits:
        own = {rule.name: replace(limits.rules.get(rule.name, Own()), on=True) for rule in RULES}
        return replace(limits, rules=own)

    return Chosen(on(chosen.production), {unit: on(own) for unit, own in chosen.units.items()})


# By what one is told


@dataclass(frozen=True, slots=True)
class ToldBy:
    """By what somebody is told besides the page, and when not.

    own: whether they set quiet hours of their own; quiet: those that hold for them; None if there
    are none.
    """

    channels: Sequence[Any]
    own: bool
    quiet: QuietHours | None


def told_by(service: Service, who: Person) -> ToldBy:
    """By what whoever is signed in is told."""
    with service.store.reading() as conn:
        settings = read_settings(conn)
        found = notice_lists.channels(conn, who.id)
    return ToldBy(found, who.id in settings.quiet_of, settings.quiet_for(who.id))
