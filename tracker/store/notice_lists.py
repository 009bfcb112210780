"""What the pages of the reminders read: who has what, what waits, what went out, whose shift."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select
from sqlalchemy.orm import aliased

from tracker.store import people_tables as p
from tracker.store import reminder_tables as r

_TAKER = aliased(p.Person)


def held(conn: Connection) -> dict[str, Any]:
    """Who has a spell, by its id: person (id), name, since."""
    asked = select(r.NoticeHeld.spell, r.NoticeHeld.since, p.Person.id.label("person"),
                   p.Person.name).join(p.Person, p.Person.id == r.NoticeHeld.person)  # fmt: skip
    return {row.spell: row for row in conn.execute(asked)}


def snoozes(conn: Connection, now: datetime) -> list[Any]:
    """What is held back now, ending soonest first: id, name of the owner, reason, about, until."""
    return list(
        conn.execute(
            select(r.NoticeSnooze, p.Person.name)
            .join(p.Person, p.Person.id == r.NoticeSnooze.owner)
            .where(r.NoticeSnooze.ended_at.is_(None), r.NoticeSnooze.until > now)
            .order_by(r.NoticeSnooze.until)
        ).mappings()
    )


def settings_said(conn: Connection, most: int) -> list[Any]:
    """How the reminders were set, newest first: version, made_at, name (None: at the computer)."""
    asked = (
        select(r.NoticeSetting.version, r.NoticeSetting.made_at, p.Person.name)
        .outerjoin(p.Person, p.Person.id == r.NoticeSetting.made_by)
        .order_by(r.NoticeSetting.version.desc())
    )
    return list(conn.execute(asked.limit(most)))


def by_state(conn: Connection) -> dict[str, int]:
    """How many messages are in each state."""
    asked = select(r.NoticeMessage.state, func.count()).group_by(r.NoticeMessage.state)
    return {row[0]: row[1] for row in conn.execute(asked)}


def messages(conn: Connection, states: Sequence[str], first: int, most: int) -> list[Any]:
    """Messages, newest first, each with whose it is. states: none is any."""
    asked = select(r.NoticeMessage, p.Person.name).join(
        p.Person, p.Person.id == r.NoticeMessage.person
    )
    if states:
        asked = asked.where(r.NoticeMessage.state.in_(states))
    asked = asked.order_by(r.NoticeMessage.made_at.desc(), r.NoticeMessage.id.desc())
    return list(conn.execute(asked.offset(first).limit(most)).mappings())


def turns(conn: Connection, messages: Sequence[str]) -> list[Any]:
    """The turns in messages: message, about, rule, severity, turn, first, at."""
    asked = select(
        r.NoticeTurn.message, r.NoticeTurn.turn, r.NoticeTurn.first, r.NoticeTurn.at,
        r.NoticeSpell.about, r.NoticeSpell.rule, r.NoticeSpell.severity,
    ).join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeTurn.spell)  # fmt: skip
    return list(conn.execute(asked.where(r.NoticeTurn.message.in_(messages))))


def ends(conn: Connection, messages: Sequence[str]) -> list[Any]:
    """The all-clears in messages: message, about, rule."""
    asked = select(r.NoticeAllClear.message, r.NoticeSpell.about, r.NoticeSpell.rule).join(
        r.NoticeSpell, r.NoticeSpell.id == r.NoticeAllClear.spell
    )
    return list(conn.execute(asked.where(r.NoticeAllClear.message.in_(messages))))


def digests(conn: Connection, messages: Sequence[str]) -> dict[str, Any]:
    """The lists of the morning that messages are: day, and how many before it were missed."""
    asked = select(r.NoticeDigest.message, r.NoticeDigest.day, r.NoticeDigest.missed)
    return {row.message: row for row in conn.execute(asked.where(
        r.NoticeDigest.message.in_(messages)))}  # fmt: skip


def channels(conn: Connection, person: str) -> list[Any]:
    """By what somebody is told besides the page: channel, address, active."""
    asked = select(r.NoticeChannel.channel, r.NoticeChannel.address, r.NoticeChannel.active)
    mine = r.NoticeChannel.person == person
    return list(conn.execute(asked.where(mine).order_by(r.NoticeChannel.channel)))


def shifts(conn: Connection, role: str, most: int) -> list[Any]:
    """How the notices of a role went from hand to hand, newest first, with the names."""
    asked = (
        select(r.NoticeShift, p.Person.name.label("gave"), _TAKER.name.label("took"))
        .join(p.Person, p.Person.id == r.NoticeShift.giver)
        .join(_TAKER, _TAKER.id == r.NoticeShift.taker)
        .where(r.NoticeShift.role == role)
        .order_by(r.NoticeShift.offered_at.desc())
    )
    return list(conn.execute(asked.limit(most)).mappings())


def offered_to(conn: Connection, person: str) -> list[Any]:
    """Offers that somebody has not accepted yet, with who gives."""
    asked = (
        select(r.NoticeShift, p.Person.name.label("gave"))
        .join(p.Person, p.Person.id == r.NoticeShift.giver)
        .where(
            r.NoticeShift.taker == person,
            r.NoticeShift.accepted_at.is_(None),
            r.NoticeShift.withdrawn_at.is_(None),
        )
    )
    return list(conn.execute(asked).mappings())


def may_take(conn: Connection, roles: Sequence[str], but: str) -> list[Any]:
    """Who could take the notices of a role over: id, name, role."""
    asked = select(p.Person.id, p.Person.name, p.Person.role).where(
        p.Person.revoked_at.is_(None), p.Person.role.in_(roles), p.Person.id != but
    )
    return list(conn.execute(asked.order_by(p.Person.name)))
