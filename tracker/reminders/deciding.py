"""What a tick decides, given what was decided before: pure, over plain values.

Who is told of what, what goes out now, who hears of an end, and to whom a danger goes that nobody
answered. Nothing here reads a clock or a table; `notices.py` does both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta, tzinfo

from tracker.reminders.digests import next_digest
from tracker.reminders.found import Role
from tracker.reminders.rules import Condition
from tracker.reminders.settings import Settings
from tracker.reminders.turns import (
    Quiet,
    Snooze,
    Spell,
    SpellKey,
    Turn,
    TurnKey,
    all_clear,
    follow,
    go_out,
)

PAGE = "page"
"""The channel that everybody has: the page itself."""

ALONE_AT_LEAST = timedelta(hours=2)
"""So long at least a danger goes to whoever has it alone; common practice, no source."""

ORDER: tuple[Role, ...] = ("loader", "data manager", "production office", "administrator")
"""To whom a danger goes on that nobody answered."""

Key = tuple[str, str]
Way = tuple[str, str]
"""A person, by id, and a channel."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may be told. since: from when. channels: by what, the page first."""

    id: str
    name: str
    role: str
    since: datetime
    channels: tuple[str, ...] = (PAGE,)


@dataclass(frozen=True, slots=True)
class Told:
    """What became of the turns of a spell that is over, for one way.

    told: somebody heard of it, or may have. waiting: it is not settled yet whether they did.
    """

    told: bool
    waiting: bool


@dataclass(frozen=True, slots=True)
class Held:
    """Somebody has it. person: by id."""

    person: str
    since: datetime


@dataclass(frozen=True, slots=True)
class Books:
    """What was decided before, and what was set and said.

    begun: from when reminders go out at all. spells: those of which not all is said. numbers: of
    conditions without such a spell, the number of their last one. latest: the newest turn that was
    decided, and when the first was. ended: what became of the turns of spells that are over;
    cleared: who heard of it already. held: who has a spell. escalated: to which roles a spell went
    on. on_shift: who has the notices of a role for now. lists: the date of the last list of the
    morning, tomorrow's at the latest.
    """

    begun: datetime
    zone: tzinfo
    settings: Settings
    people: Sequence[Person] = ()
    spells: Sequence[Spell] = ()
    numbers: Mapping[Key, int] = field(default_factory=dict)
    latest: Mapping[tuple[SpellKey, str, str], tuple[int, datetime]] = field(default_factory=dict)
    ended: Mapping[SpellKey, Mapping[Way, Told]] = field(default_factory=dict)
    cleared: Mapping[SpellKey, frozenset[Way]] = field(default_factory=dict)
    held: Mapping[SpellKey, Held] = field(default_factory=dict)
    escalated: Mapping[SpellKey, tuple[Role, ...]] = field(default_factory=dict)
    snoozes: Sequence[Snooze] = ()
    on_shift: Mapping[str, str] = field(default_factory=dict)
    lists: Mapping[Way, date] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Listed:
    """A list of the morning is decided. notes: the spells on it; none: nothing goes out."""

    way: Way
    day: date
    missed: int
    notes: tuple[SpellKey, ...]


@dataclass(slots=True)
class Plan:
    """What a tick decides.

    opened, changed: spells as they stand now. done: of which nothing more is to be said.
    """

    opened: list[Spell] = field(default_factory=list)
    changed: list[Spell] = field(default_factory=list)
    done: list[SpellKey] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)
    clears: list[tuple[SpellKey, Way]] = field(default_factory=list)
    lists: list[Listed] = field(default_factory=list)
    escalations: list[tuple[SpellKey, int, Role]] = field(default_factory=list)


def decide(
    books: Books,
    conditions: Mapping[Key, Condition],
    now: datetime,
    unknown: Iterable[str] = (),
) -> Plan:
    """What is to be written and to go out now.

    unknown: rules that could not be asked: what they spoke of stays as it was.
    """
    plan = Plan()
    spells = _followed(books, conditions, now, frozenset(unknown), plan)
    roles = _escalate(books, spells, now, plan)
    told = _recipients(books, spells, conditions, roles, now)
    quiet = _quiet(books)
    decided = {key: (latest,) for key, (latest, _) in books.latest.items()}
    plan.turns += go_out(spells, conditions, told, decided, now, snoozes=books.snoozes, quiet=quiet)
    _lists(books, spells, conditions, told, quiet, now, plan)
    _clears(books, spells, quiet, now, plan)
    return plan


def _followed(
    books: Books,
    conditions: Mapping[Key, Condition],
    now: datetime,
    unknown: frozenset[str],
    plan: Plan,
) -> list[Spell]:
    """The spells as they stand now, but for those whose rule could not be asked."""
    known = [spell for spell in books.spells if spell.key.rule not in unknown]
    over = [_over(key, number, now) for key, number in books.numbers.items()]
    before = {spell.key: spell for spell in [*known, *over]}
    found = []
    for spell in follow([*known, *over], conditions, now):
        was = before.get(spell.key)
        if was is None:
            plan.opened.append(spell)
        elif (was.gone, was.ended) != (spell.gone, spell.ended):
            plan.changed.append(spell)
        found.append(spell)
    return found[: len(known)] + found[len(known) + len(over) :]


def _over(key: Key, number: int, now: datetime) -> Spell:
    """The last spell of a condition, of which everything is said: only its number matters."""
    spell = SpellKey(*key, number)
    return Spell(spell, "note", now, now, timedelta(0), None, all_clear=False, gone=now, ended=now)


# Who is told


def people_for(books: Books, who: Iterable[str], named: str | None = None) -> list[Person]:
    """Whoever is told of what goes to some roles; if there is nobody, the administrators.

    named: somebody who is told besides, by name.
    """
    asked = tuple(who)
    found: dict[str, Person] = {}
    for role in asked:
        of_role = [person for person in books.people if person.role == role]
        on_shift = [person for person in books.people if person.id == books.on_shift.get(role)]
        found.update((person.id, person) for person in on_shift or of_role)
    found.update((person.id, person) for person in books.people if person.name == named)
    if not found and asked != ("administrator",):
        return people_for(books, ("administrator",))
    return list(found.values())


def ways_of(books: Books) -> Callable[[Condition, tuple[Role, ...], str | None], tuple[Way, ...]]:
    """Gives the ways of a condition, with the roles it went on to and who has it."""
    by_id = {person.id: person for person in books.people}
    known: dict[object, tuple[Way, ...]] = {}

    def ways(condition: Condition, more: tuple[Role, ...], holder: str | None) -> tuple[Way, ...]:
        key = (condition.who, condition.person, more, holder)
        if key not in known:
            if holder is not None and holder in by_id:
                people = [by_id[holder]]
            else:
                people = people_for(books, (*condition.who, *more), condition.person)
            known[key] = tuple((p.id, channel) for p in people for channel in p.channels)
        return known[key]

    return ways


def _recipients(
    books: Books,
    spells: Sequence[Spell],
    conditions: Mapping[Key, Condition],
    roles: Mapping[SpellKey, tuple[Role, ...]],
    now: datetime,
) -> dict[Key, tuple[Way, ...]]:
    ways = ways_of(books)
    found = {}
    for spell in spells:
        condition = conditions.get(spell.condition)
        if condition is not None and spell.ended is None:
            holder = holder_of(books, spell, now)
            found[spell.condition] = ways(condition, roles.get(spell.key, ()), holder)
    return found


def _quiet(books: Books) -> dict[str, Quiet]:
    found = {}
    for person in books.people:
        hours = books.settings.quiet_for(person.id)
        if hours is not None:
            found[person.id] = Quiet(hours.start, hours.end, books.zone, hours.pierced)
    return found


# Who has it


def alone_until(books: Books, held: Held) -> datetime:
    """Until when a danger goes to nobody but to whoever has it, while it stands."""
    after = books.settings.escalate_after or timedelta(0)
    return held.since + max(4 * after, ALONE_AT_LEAST)


def holder_of(books: Books, spell: Spell, now: datetime) -> str | None:
    """Who has it, so that nobody else is told: by id. None, too, of a danger that stands too long.

    Whoever is not here any more has nothing.
    """
    held = books.held.get(spell.key)
    if held is None or all(person.id != held.person for person in books.people):
        return None
    if spell.severity == "danger" and now >= alone_until(books, held):
        return None
    return held.person


# A danger that nobody answers


def _escalate(
    books: Books, spells: Sequence[Spell], now: datetime, plan: Plan
) -> dict[SpellKey, tuple[Role, ...]]:
    """To which roles each spell went on, with those to which it goes now."""
    roles = dict(books.escalated)
    after = books.settings.escalate_after
    if after is None:
        return roles
    first, told = _first_told(books)
    roles_of = {person.id: person.role for person in books.people}
    for spell in spells:
        at = first.get(spell.key)
        if at is None or spell.severity != "danger" or spell.gone is not None:
            continue
        if holder_of(books, spell, now) is not None or _snoozed(books, spell, now):
            continue
        reached = roles.get(spell.key, ())
        for role in _next_roles({roles_of.get(one, "") for one in told[spell.key]}, reached):
            if role not in roles_of.values():
                continue
            if now < _unanswered_since(books, spell, at) + after * (len(reached) + 1):
                break
            reached = (*reached, role)
            plan.escalations.append((spell.key, len(reached), role))
        if reached:
            roles[spell.key] = reached
    return roles


def _first_told(books: Books) -> tuple[dict[SpellKey, datetime], dict[SpellKey, set[str]]]:
    """When the first notice of each spell was decided, and to whom any was."""
    first: dict[SpellKey, datetime] = {}
    told: dict[SpellKey, set[str]] = {}
    for (key, person, _), (_, at) in books.latest.items():
        first[key] = min(at, first.get(key, at))
        told.setdefault(key, set()).add(person)
    return first, told


def _unanswered_since(books: Books, spell: Spell, first: datetime) -> datetime:
    """From when it counts that nobody answered: the first notice, the end of a snooze or a hold."""
    ends = [
        snooze.until
        for snooze in books.snoozes
        if replace(snooze, until=datetime.max.replace(tzinfo=first.tzinfo)).holds_back(
            spell.condition, first
        )
    ]
    held = books.held.get(spell.key)
    if held is not None and any(person.id == held.person for person in books.people):
        ends.append(alone_until(books, held))
    return max([first, *ends])


def _snoozed(books: Books, spell: Spell, now: datetime) -> bool:
    return any(snooze.holds_back(spell.condition, now) for snooze in books.snoozes)


def _next_roles(told: set[str], reached: tuple[Role, ...]) -> list[Role]:
    """The roles to which a danger goes on from those that were told, one after the other."""
    known = [n for n, role in enumerate(ORDER) if role in told or role in reached]
    return list(ORDER[max(known, default=-1) + 1 :])


# Lists of the morning, and ends


def _lists(
    books: Books,
    spells: Sequence[Spell],
    conditions: Mapping[Key, Condition],
    told: Mapping[Key, tuple[Way, ...]],
    quiet: Mapping[str, Quiet],
    now: datetime,
    plan: Plan,
) -> None:
    notes: dict[Way, list[SpellKey]] | None = None
    for person in books.people:
        hours = quiet.get(person.id)
        if hours is not None and hours.holds_back("note", now):
            continue
        at = books.settings.chosen.production.morning_list
        since = max(books.begun, person.since)
        if since > now:
            # The clock was set back since: nobody waits for it to come there again.
            since = now - timedelta(days=1)
        for channel in person.channels:
            way = (person.id, channel)
            last = books.lists.get(way)
            digest = next_digest(now, at, books.zone, () if last is None else (last,), since)
            if digest is None:
                continue
            if notes is None:
                notes = _notes(books, spells, conditions, told, now)
            found = tuple(notes.get(way, ()))
            plan.lists.append(Listed(way, digest.day, digest.missed, found))


def _notes(
    books: Books,
    spells: Sequence[Spell],
    conditions: Mapping[Key, Condition],
    told: Mapping[Key, tuple[Way, ...]],
    now: datetime,
) -> dict[Way, list[SpellKey]]:
    """The notes that stand on the list of each way."""
    found: dict[Way, list[SpellKey]] = {}
    for spell in spells:
        at = spell.at(0)
        condition = conditions.get(spell.condition)
        if spell.severity != "note" or spell.gone is not None or condition is None:
            continue
        if at is None or at > now or _snoozed(books, spell, now):
            continue
        for way in told.get(spell.condition, ()):
            found.setdefault(way, []).append(spell.key)
    return found


def _clears(
    books: Books,
    spells: Sequence[Spell],
    quiet: Mapping[str, Quiet],
    now: datetime,
    plan: Plan,
) -> None:
    """Who hears of an end; what is over for good once nobody is left who is to hear of it."""
    here = {(person.id, channel) for person in books.people for channel in person.channels}
    for spell in spells:
        if spell.ended is None:
            continue
        became = books.ended.get(spell.key, {})
        heard = books.cleared.get(spell.key, frozenset())
        told = [way for way, one in became.items() if one.told and way in here]
        waits = any(one.waiting for one in became.values())
        for way in all_clear(spell, told, heard):
            hours = quiet.get(way[0])
            if hours is not None and hours.holds_back(spell.severity, now):
                waits = True
            else:
                plan.clears.append((spell.key, way))
        if not waits:
            plan.done.append(spell.key)


def note_time(books: Books, now: datetime) -> datetime:
    """When the next list of the morning goes."""
    wall = now.astimezone(books.zone)
    at = books.settings.chosen.production.morning_list
    day = wall.date() if wall.time() < at else wall.date() + timedelta(days=1)
    return datetime.combine(day, at, books.zone)


def note_turn(key: SpellKey, listed: Listed, now: datetime) -> Turn:
    """That a note stands on a list: its turn is the date of the list, as a number of days."""
    return Turn(TurnKey(key, *listed.way, listed.day.toordinal()), now, now)
