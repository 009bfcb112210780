"""What a tick of the reminders reads and writes of its own tables, in a few statements each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    and_,
    bindparam,
    case,
    func,
    insert,
    or_,
    select,
    update,
)
from sqlalchemy.exc import IntegrityError

from tracker.store import people_tables as p
from tracker.store import reminder_tables as r
from tracker.store.bulk import put
from tracker.store.quick import Among, Quick
from tracker.store.rows import table
from tracker.store.tables import Base

UNSETTLED = ("queued", "leased", "retried")
"""States of a message of which nobody knows yet whether it will arrive."""


def unsettled(state: Any) -> ColumnElement[bool]:
    """Whether a state is one of them: said so that a fixed statement can have it."""
    return or_(*(state == one for one in UNSETTLED))


_CLOCK = Quick(select(table(r.NoticeClock)))
_SETTING = Quick(
    select(r.NoticeSetting.version, r.NoticeSetting.said)
    .order_by(r.NoticeSetting.version.desc())
    .limit(1)
)
_PEOPLE = Quick(
    select(
        p.Person.id, p.Person.name, p.Person.role, p.Person.made_at, r.NoticeChannel.channel
    )
    .outerjoin(
        r.NoticeChannel, and_(r.NoticeChannel.person == p.Person.id, r.NoticeChannel.active)
    )
    .where(p.Person.revoked_at.is_(None))
    .order_by(p.Person.name, p.Person.id, r.NoticeChannel.channel)
)  # fmt: skip
_SPELLS = Quick(
    select(table(r.NoticeSpell), r.NoticeHeld.person, r.NoticeHeld.since)
    .outerjoin(r.NoticeHeld, r.NoticeHeld.spell == r.NoticeSpell.id)
    .where(~r.NoticeSpell.done)
    .order_by(r.NoticeSpell.id)
)
_LATEST = Quick(
    select(
        r.NoticeTurn.spell, r.NoticeTurn.person, r.NoticeTurn.channel,
        func.max(r.NoticeTurn.turn).label("latest"),
        func.min(r.NoticeTurn.decided).label("first"),
    )
    .join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeTurn.spell)
    .where(~r.NoticeSpell.done, r.NoticeSpell.ended.is_(None))
    .group_by(r.NoticeTurn.spell, r.NoticeTurn.person, r.NoticeTurn.channel)
)  # fmt: skip
_ARRIVED = and_(r.NoticeTurn.offered, or_(r.NoticeMessage.state == "sent", r.NoticeMessage.unsure))
_ENDED = Quick(
    select(
        r.NoticeTurn.spell, r.NoticeTurn.person, r.NoticeTurn.channel,
        func.max(case((_ARRIVED, 1), else_=0)).label("told"),
        func.max(case((unsettled(r.NoticeMessage.state), 1), else_=0)).label("waiting"),
    )
    .join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeTurn.spell)
    .join(r.NoticeMessage, r.NoticeMessage.id == r.NoticeTurn.message)
    .where(~r.NoticeSpell.done, r.NoticeSpell.gone.is_not(None))
    .group_by(r.NoticeTurn.spell, r.NoticeTurn.person, r.NoticeTurn.channel)
)  # fmt: skip
_CLEARED = Quick(
    select(r.NoticeAllClear.spell, r.NoticeAllClear.person, r.NoticeAllClear.channel)
    .join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeAllClear.spell)
    .where(~r.NoticeSpell.done)
)
_NUMBERS = Quick(
    select(
        r.NoticeSpell.subject, r.NoticeSpell.rule,
        func.max(r.NoticeSpell.number).label("number"),
    )
    .where(Among(r.NoticeSpell.subject, "subjects"))
    .group_by(r.NoticeSpell.subject, r.NoticeSpell.rule)
)  # fmt: skip
_ESCALATED = Quick(
    select(r.NoticeEscalation.spell, r.NoticeEscalation.role)
    .join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeEscalation.spell)
    .where(~r.NoticeSpell.done)
    .order_by(r.NoticeEscalation.spell, r.NoticeEscalation.step)
)
_SNOOZES = Quick(select(table(r.NoticeSnooze)).where(r.NoticeSnooze.ended_at.is_(None)))
_SHIFTS = Quick(
    select(r.NoticeShift.role, r.NoticeShift.taker, r.NoticeShift.withdrawn_at)
    .where(r.NoticeShift.accepted_at.is_not(None))
    .order_by(r.NoticeShift.accepted_at, r.NoticeShift.id)
)
_LISTS = Quick(
    select(
        r.NoticeDigest.person, r.NoticeDigest.channel,
        func.max(r.NoticeDigest.day).label("day"),
    )
    .where(r.NoticeDigest.day <= bindparam("until"))
    .group_by(r.NoticeDigest.person, r.NoticeDigest.channel)
)  # fmt: skip
_MOVED_ON = Quick(
    table(r.NoticeClock)
    .update()
    .where(table(r.NoticeClock).c.generation == bindparam("was"))
    .values(
        generation=table(r.NoticeClock).c.generation + 1,
        last_tick=bindparam("at"),
        error=bindparam("wrong"),
    )
)
_MARKED = Quick(
    table(r.NoticeSpell)
    .update()
    .where(Among(table(r.NoticeSpell).c.id, "ids"))
    .values(gone=bindparam("went"), ended=bindparam("over"))
)
_DONE = Quick(
    table(r.NoticeSpell).update().where(Among(table(r.NoticeSpell).c.id, "ids")).values(done=True)
)


def clock(conn: Connection) -> Any:
    """The row that every tick writes; None if there was none yet."""
    return _CLOCK.first(conn)


def begin_clock(conn: Connection, at: datetime) -> bool:
    """Make that row; False if another did at the same time."""
    made = {"id": 1, "generation": 0, "begun_at": at, "last_tick": at, "error": None}
    try:
        with conn.begin_nested():
            conn.execute(insert(table(r.NoticeClock)), made)
    except IntegrityError:
        return False
    return True


def move_on(conn: Connection, generation: int, at: datetime, error: str | None) -> bool:
    """Write that a tick was; False if another was since the generation that was read."""
    return _MOVED_ON.run(conn, was=generation, at=at, wrong=error) == 1


def setting(conn: Connection) -> Mapping[str, Any] | None:
    """What was set last; None if nothing was."""
    row = _SETTING.first(conn)
    return None if row is None else row.said


def people(conn: Connection) -> list[Any]:
    """Everybody who is here, once for each channel that they have besides the page."""
    return _PEOPLE.all(conn)


def spells(conn: Connection) -> list[Any]:
    """The spells of which not all is said, each with who has it."""
    return _SPELLS.all(conn)


def latest_turns(conn: Connection) -> list[Any]:
    """Of spells that go on: the newest turn that was decided, and when the first was."""
    return _LATEST.all(conn)


def ended_turns(conn: Connection) -> list[Any]:
    """Of spells that do not: whether anybody was told, or may still be."""
    return _ENDED.all(conn)


def cleared(conn: Connection) -> list[Any]:
    """Who heard of the end of spells of which not all is said."""
    return _CLEARED.all(conn)


def last_numbers(conn: Connection, subjects: Iterable[str]) -> dict[tuple[str, str], int]:
    """The number of the last spell of each condition of some subjects."""
    found = _NUMBERS.all(conn, subjects=sorted(set(subjects)))
    return {(row.subject, row.rule): row.number for row in found}


def escalated(conn: Connection) -> list[Any]:
    """To which roles spells went on of which not all is said, in order."""
    return _ESCALATED.all(conn)


def snoozes(conn: Connection) -> list[Any]:
    """What was held back, and not ended by anybody before its time."""
    return _SNOOZES.all(conn)


def on_shift(conn: Connection) -> dict[str, str]:
    """Who accepted the notices of a role last, by role; where they let them go, nobody."""
    last = {row.role: row for row in _SHIFTS.all(conn)}
    return {role: row.taker for role, row in last.items() if row.withdrawn_at is None}


def lists(conn: Connection, until: str) -> list[Any]:
    """The date of the last list of each way, up to a date."""
    return _LISTS.all(conn, until=until)


def mark(conn: Connection, changes: Iterable[tuple[str, datetime | None, datetime | None]]) -> None:
    """Write since when spells are gone, and when they ended: (id, gone, ended)."""
    together: dict[tuple[datetime | None, datetime | None], list[str]] = {}
    for spell, gone, ended in changes:
        together.setdefault((gone, ended), []).append(spell)
    for (gone, ended), ids in together.items():
        _MARKED.run(conn, ids=ids, went=gone, over=ended)


def done(conn: Connection, ids: Sequence[str]) -> None:
    """Nothing more is to be said of some spells."""
    if ids:
        _DONE.run(conn, ids=list(ids))


def add(conn: Connection, of: type[Base], rows: Sequence[dict[str, Any]]) -> None:
    """Add rows that are not there. IntegrityError if one is: then another decided it."""
    put(conn, table(of), rows)


# One by one, for what people say


def forget_texts(conn: Connection) -> None:
    """Take away what was written to people, and the lists of shifts: names may stand in them.

    A message that is yet to go is written anew when it goes.
    """
    conn.execute(update(r.NoticeMessage).values(title=None, body=None))
    conn.execute(update(r.NoticeShift).values(said={}))


def change(conn: Connection, of: type[Base], where: Any, **values: Any) -> int:
    """Change rows; how many there were."""
    return int(conn.execute(update(of).where(where).values(**values)).rowcount)
