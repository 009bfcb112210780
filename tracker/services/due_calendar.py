"""A calendar of what somebody is to be reminded of: what is due, and what will be."""

from __future__ import annotations

from datetime import datetime

from tracker.reminders.deciding import people_for
from tracker.reminders.feed import Happening, calendar
from tracker.reminders.notices import read_books, read_settings
from tracker.reminders.rules import Condition
from tracker.reminders.sight import look
from tracker.services.notices_page import owed
from tracker.services.people import Person
from tracker.services.service import Service, production_row
from tracker.store.reminder_rows import clock


def due_calendar(service: Service, who: Person, url: str | None = None) -> bytes:
    """What comes to somebody, as iCalendar: of what is due its next notice, of the rest when it is.

    url: of our page, as a person can reach it. What hangs on a call that is yet to come is not
    in it: nobody knows its time.
    """
    found = [
        _happening(one.condition, one.next, url)
        for one in owed(service).owed
        if who.name in one.to and one.next is not None
    ]
    with service.store.reading() as conn:
        name = production_row(conn).name
    coming = [_happening(one, at, url) for one, at in _coming(service, who)]
    return calendar(f"{name}: what is due", [*found, *coming])


def _coming(service: Service, who: Person) -> list[tuple[Condition, datetime]]:
    """What comes to somebody and is not due yet, each with when it will be told."""
    now = service.clock()
    with service.store.reading() as conn:
        settings = read_settings(conn)
        sight = look(service, conn, now, settings.chosen)
        begun = clock(conn)
        books, _ = read_books(conn, settings, now, begun.begun_at if begun else now, sight)
    return [
        (one, one.due + one.delay)
        for one in sight.conditions.values()
        if one.due is not None
        and not one.holds(now)
        and any(person.id == who.id for person in people_for(books, one.who, one.person))
    ]


def _happening(condition: Condition, at: datetime, url: str | None) -> Happening:
    return Happening(
        id="/".join(condition.key).replace(" ", "-"),
        at=at,
        changed=condition.since,
        title=condition.says,
        body="\n".join((condition.to_do, *(f"- {line}" for line in condition.lines))),
        url=url,
        danger=condition.severity == "danger",
    )
