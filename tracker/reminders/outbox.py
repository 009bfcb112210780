"""The outbox: hands on what a tick decided, until it was accepted, is settled, or cannot go.

Before a message is handed on, what it tells of is looked at again: what does not hold is left out,
and waits in a message of its own, since it may come back within 15 minutes as the same thing. Once
it has ended, it is superseded. A message is taken on a lease, handed on, and marked as sent
after the channel accepted it. Whoever dies between the last two leaves a message that another
hands on once more, under the same id. A lease only keeps two from doing it at once.
"""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import Connection

from tracker.domain.mishaps import Severity
from tracker.reminders.deciding import PAGE
from tracker.reminders.letters import Channel, Letter, NotAccepted
from tracker.reminders.notices import read_settings, read_snoozes
from tracker.reminders.settings import Settings
from tracker.reminders.sight import Sight, look
from tracker.reminders.turns import Quiet
from tracker.reminders.wording import Content, Thing, body, title
from tracker.services.service import Service, new_id, production_row
from tracker.store import outbox_rows as rows

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=10)
"""How long somebody may take to hand a message on; longer than any channel waits for an answer."""
LONGEST_WAIT = timedelta(minutes=30)
GIVE_UP_AFTER = timedelta(hours=48)
TIRED_AFTER = 3
"""So many failures of a channel in a row, and the rest waits for the next time."""


@dataclass(slots=True)
class Delivered:
    """What became of messages, by number. held: not now, for quiet hours, a snooze or the night."""

    sent: int = 0
    retried: int = 0
    dead: int = 0
    superseded: int = 0
    held: int = 0


class _Ready(NamedTuple):
    """A message that goes now. spells: those that are told of in it. later: those that wait."""

    row: Any
    content: Content
    spells: Sequence[str]
    later: Sequence[str]


def wait_after(attempts: int) -> timedelta:
    """How long after so many attempts the next one comes: 1, 2, 4, 8, 16, 30, 30 … minutes."""
    return min(timedelta(minutes=2 ** min(attempts - 1, 5)), LONGEST_WAIT)


def _attempts() -> int:
    waited, attempts = timedelta(0), 1
    while waited < GIVE_UP_AFTER:
        waited += wait_after(attempts)
        attempts += 1
    return attempts


ATTEMPTS = _attempts()
"""How many make 48 hours of trying. They are counted, not the clock, which may be set."""


def deliver(
    service: Service,
    now: datetime | None = None,
    channels: Mapping[str, Channel] | None = None,
    url: str | None = None,
) -> Delivered:
    """Hand on every message whose time has come. Errors: NotSetUp.

    channels: by their kind; what goes by one that is not there waits. url: of our page, as a
    person can reach it.
    """
    at = service.clock() if now is None else now
    given = channels or {}
    became = Delivered()
    failures: Counter[str] = Counter()
    with service.store.reading() as conn:
        waiting = [row for row in rows.waiting(conn) if _has_come(row, at)]
    for row in waiting:
        if failures[row.channel] >= TIRED_AFTER:
            continue
        try:
            failed = _one(service, row.id, at, given, url, became)
        except Exception:
            # One message that cannot be made keeps nobody from theirs.
            log.exception("message %s could not be handed on", row.id)
            continue
        failures[row.channel] = failures[row.channel] + 1 if failed else 0
    return became


def _has_come(row: Any, now: datetime) -> bool:
    """Whether a message may be tried. After a clock was set back nothing waits much longer for it.

    Of a lease the clock of another worker may be ahead by as long as it lasts.
    """
    until = row.lease_until if row.state == "leased" else row.next_try
    longest = 2 * LEASE if row.state == "leased" else LONGEST_WAIT
    return until is None or until <= now or until > now + longest


def _one(
    service: Service,
    message: str,
    now: datetime,
    channels: Mapping[str, Channel],
    url: str | None,
    became: Delivered,
) -> bool:
    """Hand one message on; whether the channel failed."""
    with service.store.reading() as conn:
        row = rows.message(conn, message)
        ready = _looked_at(service, conn, row, now)
    if row.state not in ("queued", "leased", "retried") or not _has_come(row, now):
        return False
    if isinstance(ready, str):
        with service.store.writing() as conn:
            rows.superseded(conn, row, ready)
        became.superseded += 1
        return False
    channel = channels.get(row.channel)
    if ready is None or (channel is None and row.channel != PAGE):
        became.held += 1
        return False
    worker = new_id()
    said = (title(ready.content), body(ready.content))
    with service.store.writing() as conn:
        if not rows.lease(conn, row, worker, now + LEASE, said, ready.spells):
            return False
        if ready.later:
            rows.put_off(conn, row, new_id(), ready.later)
    letter = Letter(row.id, row.address or row.person, *said, url, ready.content.danger)
    return _handed_on(service, row, worker, letter, channel, now, became)


def _handed_on(
    service: Service,
    row: Any,
    worker: str,
    letter: Letter,
    channel: Channel | None,
    now: datetime,
    became: Delivered,
) -> bool:
    try:
        if channel is not None:
            channel.send(letter)
    except NotAccepted as error:
        gone_wrong = error
    except Exception as error:
        log.warning("the channel %s failed", row.channel, exc_info=True)
        gone_wrong = NotAccepted(f"{type(error).__name__}: {error}", unsure=True)
    else:
        with service.store.writing() as conn:
            rows.sent(conn, row.id, now)
        became.sent += 1
        return False
    attempts = row.attempts + 1
    over = gone_wrong.permanent or attempts >= ATTEMPTS
    unsure = bool(row.unsure) or row.state == "leased" or gone_wrong.unsure
    again = None if over else now + wait_after(attempts)
    with service.store.writing() as conn:
        rows.failed(conn, row.id, worker, gone_wrong.reason, again, unsure=unsure)
    became.dead += over
    became.retried += not over
    return not gone_wrong.permanent


# Looking again


def _looked_at(service: Service, conn: Connection, row: Any, now: datetime) -> _Ready | str | None:
    """What is to be said now; why nothing is any more; None if it has to wait."""
    if row.revoked_at is not None:
        return "This person is not here any more."
    if row.channel != PAGE and not row.active:
        return "This channel was taken away from them, or turned off."
    settings = read_settings(conn)
    sight = look(service, conn, now, settings.chosen)
    items = rows.items(conn, row.id)
    if any(item.rule in sight.unknown for item in items):
        return None
    going_on = [item for item in items if item.ended is None and item.newest == item.turn]
    holding = [item for item in going_on if _holds(item, sight, now)]
    clears = [one for one in rows.clears(conn, row.id) if not one.again]
    content = _content(conn, row, holding, clears, sight)
    if content.nothing:
        return None if going_on else "Settled, or told of since by a newer message."
    if not _may_go(conn, row.person, settings, content, clears, sight):
        return None
    told = {item.id for item in holding}
    later = [one.id for one in going_on if one.id not in told and one.severity != "note"]
    return _Ready(row, content, [item.id for item in holding], later)


def _holds(item: Any, sight: Sight, now: datetime) -> bool:
    """Whether something holds now. Before it opened, by a clock that was set back, it does."""
    condition = sight.conditions.get((item.subject, item.rule))
    return condition is not None and (now < item.opened or condition.holds(now))


def _content(
    conn: Connection, row: Any, holding: Sequence[Any], clears: Sequence[Any], sight: Sight
) -> Content:
    order = ("danger", "warning", "note")
    told = sorted(holding, key=lambda item: order.index(item.severity))
    things, notes = [], []
    for item in told:
        condition = sight.conditions[item.subject, item.rule]
        if item.severity == "note":
            notes.append(Thing(condition))
        else:
            frozen = replace(condition, severity=item.severity)
            things.append(Thing(frozen, item.turn - item.first + int(item.missed or 0)))
    digest = rows.digest(conn, row.id)
    return Content(
        production_row(conn).name,
        things,
        # Two rolls of one card may have ended at once: it is one line.
        list(dict.fromkeys((one.about, one.rule) for one in clears)),
        notes,
        None if digest is None else date.fromisoformat(digest.day),
        0 if digest is None else digest.missed,
    )


def _may_go(
    conn: Connection,
    person: str,
    settings: Settings,
    content: Content,
    clears: Sequence[Any],
    sight: Sight,
) -> bool:
    """Whether anything in a message may go now: what was decided hours ago may have to wait."""
    now = sight.at
    hours = settings.quiet_for(person)
    quiet = None if hours is None else Quiet(hours.start, hours.end, sight.zone, hours.pierced)

    def at_rest(severity: Severity) -> bool:
        return quiet is not None and quiet.holds_back(severity, now)

    snoozes = read_snoozes(conn)
    for thing in content.things:
        one = thing.condition
        snoozed = any(snooze.holds_back(one.key, now) for snooze in snoozes)
        if one.may_go and not snoozed and not at_rest(one.severity):
            return True
    if content.notes and not at_rest("note"):
        return True
    return any(not at_rest(one.severity) for one in clears)
