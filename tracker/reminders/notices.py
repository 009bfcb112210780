"""The tick: looks at the production, decides what goes out, and writes it down for the outbox.

It reads in one snapshot, decides with nothing but what it read, and writes in one transaction, in
which it first moves a generation on: of two that looked at the same time the other one begins
again. So it does not matter how many tick, nor when one of them dies. `outbox.py` hands on what
is written here.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, cast

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from tracker.reminders.deciding import (
    PAGE,
    Books,
    Held,
    Key,
    Person,
    Plan,
    Told,
    Way,
    decide,
    note_turn,
)
from tracker.reminders.found import Role
from tracker.reminders.settings import DEFAULT, BadSetting, Settings, from_json
from tracker.reminders.sight import Sight, look
from tracker.reminders.turns import Snooze, Spell, SpellKey, Turn
from tracker.services.service import Service, new_id
from tracker.store import reminder_rows as rows
from tracker.store import reminder_tables as r

log = logging.getLogger(__name__)

EVERY = timedelta(minutes=1)
"""How often a tick is to be."""
MISSED = 3
"""So many ticks missed, and the clock is taken to stand still."""
TRIES = 5


@dataclass(frozen=True, slots=True)
class Ticked:
    """What a tick wrote. messages: how many were queued. spells: how many opened."""

    messages: int = 0
    spells: int = 0


@dataclass(frozen=True, slots=True)
class Heartbeat:
    """When the last tick was; None before the first. alive: whether ticks come as they should.

    error: what went wrong in the last one.
    """

    last: datetime | None
    alive: bool
    error: str | None = None


@dataclass(frozen=True, slots=True)
class Looked:
    """What one snapshot holds: the books, what the rules speak of, and the ids of the spells."""

    generation: int
    books: Books
    sight: Sight
    ids: dict[SpellKey, str]


def tick(service: Service, now: datetime | None = None) -> Ticked:
    """Decide what goes out now, and write it down. Errors: NotSetUp.

    Where others tick at the same time and get in between again and again, it is left to them.
    """
    at = service.clock() if now is None else now
    for _ in range(TRIES):
        seen = _looked(service, at)
        if seen is None:
            continue
        plan = decide(seen.books, seen.sight.conditions, at, seen.sight.unknown)
        try:
            with service.store.writing() as conn:
                error = _error(seen.sight)
                if rows.move_on(conn, seen.generation, at, error):
                    return _write(conn, seen, plan, at)
        except IntegrityError:
            # The keys know of it already: whatever wrote it, the next look sees it.
            log.warning("something was decided twice, and is left as it was", exc_info=True)
    return Ticked()


def heartbeat(service: Service, now: datetime | None = None) -> Heartbeat:
    """Whether the clock of the reminders runs."""
    at = service.clock() if now is None else now
    with service.store.reading() as conn:
        row = rows.clock(conn)
    if row is None:
        return Heartbeat(None, alive=False)
    # Either way: a clock that was set back is no sign of life.
    return Heartbeat(row.last_tick, abs(at - row.last_tick) < MISSED * EVERY, row.error)


def _error(sight: Sight) -> str | None:
    if not sight.unknown:
        return None
    return f"These rules could not be asked: {', '.join(sorted(sight.unknown))}."


# Reading


def _looked(service: Service, at: datetime) -> Looked | None:
    """One snapshot; None where there was no clock yet, which is there from now on."""
    with service.store.reading() as conn:
        clock = rows.clock(conn)
        if clock is not None:
            settings = read_settings(conn)
            sight = look(service, conn, at, settings.chosen)
            books, ids = read_books(conn, settings, at, clock.begun_at, sight)
            return Looked(clock.generation, books, sight, ids)
    with service.store.writing() as conn:
        rows.begin_clock(conn, at)
    return None


def read_settings(conn: Connection) -> Settings:
    """What was set last. What cannot be read any more counts as not set, and is logged."""
    said = rows.setting(conn)
    if said is None:
        return DEFAULT
    try:
        return from_json(said)
    except BadSetting:
        log.exception("the settings of the reminders cannot be read")
        return DEFAULT


def read_books(
    conn: Connection, settings: Settings, at: datetime, begun: datetime, sight: Sight
) -> tuple[Books, dict[SpellKey, str]]:
    """What was decided before, and the id of each spell."""
    kept = rows.spells(conn)
    spells = [_spell(row) for row in kept]
    keys = {row.id: spell.key for row, spell in zip(kept, spells, strict=True)}
    gone = any(spell.gone is not None for spell in spells)
    tomorrow = at.astimezone(sight.zone).date() + timedelta(days=1)
    books = Books(
        begun=begun,
        zone=sight.zone,
        settings=settings,
        people=read_people(conn),
        spells=spells,
        numbers=_numbers(conn, spells, sight, at),
        latest={
            (keys[row.spell], row.person, row.channel): (row.latest, row.first)
            for row in rows.latest_turns(conn)
        },
        ended=_ended(conn, keys) if gone else {},
        cleared=_cleared(conn, keys) if gone else {},
        held={keys[row.id]: Held(row.person, row.since) for row in kept if row.person is not None},
        escalated=_escalated(conn, keys) if _any_danger(spells) else {},
        snoozes=read_snoozes(conn),
        on_shift=rows.on_shift(conn),
        lists={
            (row.person, row.channel): date.fromisoformat(row.day)
            for row in rows.lists(conn, tomorrow.isoformat())
        },
    )
    return books, {key: spell for spell, key in keys.items()}


def read_people(conn: Connection) -> list[Person]:
    """Everybody who is here, with their channels, the page first."""
    found: dict[str, Person] = {}
    for row in rows.people(conn):
        before = found.get(row.id)
        channels = (PAGE,) if before is None else before.channels
        if row.channel is not None:
            channels = (*channels, row.channel)
        found[row.id] = Person(row.id, row.name, row.role, row.made_at, channels)
    return list(found.values())


def read_snoozes(conn: Connection) -> list[Snooze]:
    """What was held back and not ended before its time."""
    return [
        Snooze(row.owner, row.reason, row.until, row.subject, row.rule)
        for row in rows.snoozes(conn)
    ]


def _spell(row: Any) -> Spell:
    return Spell(
        SpellKey(row.subject, row.rule, row.number),
        row.severity,
        row.opened,
        row.anchor,
        timedelta(microseconds=row.delay),
        None if row.repeat is None else timedelta(microseconds=row.repeat),
        bool(row.all_clear),
        row.gone,
        row.ended,
    )


def _any_danger(spells: Iterable[Spell]) -> bool:
    return any(spell.severity == "danger" for spell in spells)


def _numbers(
    conn: Connection, spells: Sequence[Spell], sight: Sight, at: datetime
) -> dict[Key, int]:
    """The number of the last spell of what holds and has none of which anything is to be said."""
    known = {spell.condition for spell in spells}
    new = {key for key, one in sight.conditions.items() if key not in known and one.holds(at)}
    if not new:
        return {}
    found = rows.last_numbers(conn, (subject for subject, _ in new))
    return {key: number for key, number in found.items() if key in new}


def _ended(conn: Connection, keys: dict[str, SpellKey]) -> dict[SpellKey, dict[Way, Told]]:
    found: dict[SpellKey, dict[Way, Told]] = {}
    for row in rows.ended_turns(conn):
        told = Told(bool(row.told), bool(row.waiting))
        found.setdefault(keys[row.spell], {})[row.person, row.channel] = told
    return found


def _cleared(conn: Connection, keys: dict[str, SpellKey]) -> dict[SpellKey, frozenset[Way]]:
    found: dict[SpellKey, set[Way]] = {}
    for row in rows.cleared(conn):
        found.setdefault(keys[row.spell], set()).add((row.person, row.channel))
    return {key: frozenset(ways) for key, ways in found.items()}


def _escalated(conn: Connection, keys: dict[str, SpellKey]) -> dict[SpellKey, tuple[Role, ...]]:
    found: dict[SpellKey, tuple[Role, ...]] = {}
    for row in rows.escalated(conn):
        role = cast("Role", row.role)
        found[keys[row.spell]] = (*found.get(keys[row.spell], ()), role)
    return found


# Writing


def _write(conn: Connection, seen: Looked, plan: Plan, at: datetime) -> Ticked:
    ids = dict(seen.ids)
    opened = [_opened(spell, seen.sight, ids) for spell in plan.opened]
    rows.add(conn, r.NoticeSpell, opened)
    rows.mark(conn, ((ids[spell.key], spell.gone, spell.ended) for spell in plan.changed))
    rows.done(conn, [ids[key] for key in plan.done])
    messages = _Messages(at)
    danger = {spell.key for spell in [*seen.books.spells, *plan.opened] if _any_danger([spell])}
    turns = [
        _turn(turn, ids, messages.to(_way(turn), danger=turn.key.spell in danger), at)
        for turn in plan.turns
    ]
    clears = [_clear(ids[key], way, messages.to(way), at) for key, way in plan.clears]
    lists = []
    for listed in plan.lists:
        message = messages.to(listed.way) if listed.notes else None
        lists.append(_list(listed.way, listed.day, listed.missed, message, at))
        for key in listed.notes if message is not None else ():
            turns.append(_turn(note_turn(key, listed, at), ids, cast("str", message), at))
    rows.add(conn, r.NoticeMessage, messages.rows())
    rows.add(conn, r.NoticeTurn, turns)
    rows.add(conn, r.NoticeAllClear, clears)
    rows.add(conn, r.NoticeDigest, lists)
    gone_on = [
        {"spell": ids[key], "step": step, "role": role, "decided": at}
        for key, step, role in plan.escalations
    ]
    rows.add(conn, r.NoticeEscalation, gone_on)
    return Ticked(messages=len(messages.made), spells=len(opened))


class _Messages:
    """The messages of a tick: one for each way."""

    def __init__(self, at: datetime) -> None:
        self.at = at
        self.made: dict[Way, tuple[str, bool]] = {}

    def to(self, way: Way, *, danger: bool = False) -> str:
        """The id of the message to somebody by a channel."""
        message, before = self.made.get(way) or (new_id(), False)
        self.made[way] = (message, before or danger)
        return message

    def rows(self) -> list[dict[str, Any]]:
        """As they are kept."""
        return [
            {
                "id": message,
                "person": person,
                "channel": channel,
                "made_at": self.at,
                "state": "queued",
                "danger": danger,
                "attempts": 0,
                "next_try": None,
                "leased_by": None,
                "lease_until": None,
                "unsure": False,
                "sent_at": None,
                "error": None,
                "title": None,
                "body": None,
            }
            for (person, channel), (message, danger) in self.made.items()
        ]


def _way(turn: Turn) -> Way:
    return turn.key.to, turn.key.channel


def _opened(spell: Spell, sight: Sight, ids: dict[SpellKey, str]) -> dict[str, Any]:
    ids[spell.key] = new_id()
    subject, rule, number = spell.key
    return {
        "id": ids[spell.key],
        "subject": subject,
        "rule": rule,
        "number": number,
        "about": sight.conditions[spell.condition].about,
        "severity": spell.severity,
        "opened": spell.opened,
        "anchor": spell.anchor,
        "delay": spell.delay // timedelta(microseconds=1),
        "repeat": None if spell.repeat is None else spell.repeat // timedelta(microseconds=1),
        "all_clear": spell.all_clear,
        "gone": spell.gone,
        "ended": spell.ended,
        "done": False,
    }


def _turn(turn: Turn, ids: dict[SpellKey, str], message: str, at: datetime) -> dict[str, Any]:
    first = turn.collapsed.start if turn.collapsed else turn.key.turn
    return {
        "spell": ids[turn.key.spell],
        "person": turn.key.to,
        "channel": turn.key.channel,
        "turn": turn.key.turn,
        "first": first,
        "at": turn.at,
        "decided": at,
        "message": message,
        "offered": False,
    }


def _clear(spell: str, way: Way, message: str, at: datetime) -> dict[str, Any]:
    return {
        "spell": spell,
        "person": way[0],
        "channel": way[1],
        "decided": at,
        "message": message,
    }


def _list(way: Way, day: date, missed: int, message: str | None, at: datetime) -> dict[str, Any]:
    return {
        "person": way[0],
        "channel": way[1],
        "day": day.isoformat(),
        "decided": at,
        "missed": missed,
        "message": message,
    }
