"""What every act of a person has in common: one tap, one transaction, never doubled.

The acts themselves stand in `acts_camera`, `acts_card`, `acts_clearing`, `acts_copies`,
`acts_drive`, `acts_day` and `acts_back`. Each takes the service, who says it, what is said, and

    at      when it happened, aware; now if nobody says otherwise
    tap     the id of the tap: given again, nothing is doubled, whatever time is said then
    check   where somebody taps on a page: looks, in the transaction of the act and before anything
            is logged, whether that page is old (see `as_drawn`)

and gives what was logged. Errors of all of them: BadInput, UnknownLabel, Conflict; with a check
AskAgain and TooEarly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any
from uuid import UUID, uuid5

from sqlalchemy import Connection, select

from tracker.services.as_drawn import Check
from tracker.services.logging import Logged, Said, log_within
from tracker.services.service import Service, Who, new_id, production_row
from tracker.store import tables as t
from tracker.wire.values import SAFE_INTEGER

Obj = dict[str, Any]
"""A fact as it goes on the wire, without its id and its time."""


def act(
    service: Service,
    who: Who,
    event: str,
    at: datetime | None,
    tap: str | None,
    check: Check | None = None,
    **fields: Any,
) -> Logged:
    """One fact. fields: by their words in Python; what is None is left out."""
    return act_on(service, who, [obj(event, **fields)], at, tap, check)


def act_on(
    service: Service,
    who: Who,
    objs: Sequence[Obj],
    at: datetime | None,
    tap: str | None,
    check: Check | None = None,
) -> Logged:
    """Several facts of one tap, all or nothing."""
    with looking_first(service, tap, check) as conn:
        return say(service, conn, who, objs, at, tap)


@contextmanager
def looking_first(
    service: Service, tap: str | None = None, check: Check | None = None
) -> Iterator[Connection]:
    """A transaction in which nobody else logs anything, to look and then to act.

    A tap that was logged before is not checked: it is what made the page old.
    """
    with service.store.writing() as conn:
        production_row(conn, locked=True)
        if check is not None and (tap is None or kept_fact(conn, tap) is None):
            check(conn)
        yield conn


def obj(event: str, **fields: Any) -> Obj:
    """A fact as it goes on the wire: what is None is left out."""
    said = {_word(name): _value(value) for name, value in fields.items() if value is not None}
    return {"event": event, **said}


def _word(name: str) -> str:
    return {"loaded_as": "as", "made_from": "from", "received_from": "from"}.get(name, name)


def _value(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, tuple):
        return list(value)
    if type(value) is int and value > SAFE_INTEGER:
        return str(value)
    return value


def say(
    service: Service,
    conn: Connection,
    who: Who,
    objs: Sequence[Obj],
    at: datetime | None,
    tap: str | None,
    *,
    own: int = 0,
) -> Logged:
    """Log what one tap says. own: which of the facts has the id of the tap itself."""
    head = tap or new_id()
    kept = None if tap is None else kept_fact(conn, tap)
    if kept is not None:
        # "5 minutes ago" is another time a second later, and the tap is the same.
        at = kept.occurred_at
    elif at is None:
        at = service.clock()
    time = at.astimezone(UTC).isoformat()
    said = [
        Said({"id": head if n == own else beside(head, n), "occurred_at": time, **one})
        for n, one in enumerate(objs)
    ]
    return log_within(service, conn, said, who=who)


def beside(tap: str, number: int) -> str:
    """The id of another fact of the same tap: the same each time it is asked for."""
    try:
        return str(uuid5(UUID(tap), str(number)))
    except ValueError:
        # It is answered with the field at fault where facts are read.
        return tap


def kept_fact(conn: Connection, fact_id: str) -> Any:
    """What the journal holds by an id: event, subject, occurred_at, body; None if nothing."""
    asked = select(t.Entry.event, t.Entry.subject, t.Entry.occurred_at, t.Entry.body)
    return conn.execute(asked.where(t.Entry.fact_id == fact_id.lower())).one_or_none()


def what_if(service: Service, said: Obj) -> tuple[list[str], list[str]]:
    """The names of the rolls that would fall below the backup rule, and that would be covered.

    The fact is tried on the rows, and undone. Rolls that are on no card any more are among them.
    """
    with looking_first(service) as conn:
        before = _covered(conn)
        trying = conn.begin_nested()
        say(service, conn, Who(), [said], None, None)
        after = _covered(conn)
        trying.rollback()
    fell = [name for roll, (name, was) in before.items() if was and not after[roll][1]]
    rose = [name for roll, (name, was) in before.items() if not was and after[roll][1]]
    return sorted(fell), sorted(rose)


def _covered(conn: Connection) -> dict[str, tuple[str, bool]]:
    asked = select(t.Roll.id, t.Roll.name, t.Roll.covered).where(t.Roll.closed)
    return {row.id: (row.name, row.covered) for row in conn.execute(asked)}
