"""What the pages of the reminders read: messages with what is in them, answers, settings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, func, or_, select
from sqlalchemy.orm import aliased

from tracker.store import people_tables as p
from tracker.store import reminder_tables as r
from tracker.store import tables as t
from tracker.store.rows import table

AT_ONCE = 500
"""So many ids at most in one statement."""

_GIVER, _TAKER = aliased(p.Person), aliased(p.Person)


def held(conn: Connection) -> dict[str, Any]:
    """Who has which spell since when, by the spell's id."""
    asked = (
        select(r.NoticeHeld.spell, r.NoticeHeld.person, p.Person.name, r.NoticeHeld.since)
        .join(p.Person, p.Person.id == r.NoticeHeld.person)
        .join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeHeld.spell)
        .where(~r.NoticeSpell.done, p.Person.revoked_at.is_(None))
    )
    return {row.spell: row for row in conn.execute(asked)}


def labels(conn: Connection, cards: Iterable[str]) -> dict[str, str]:
    """The labels of some cards, by the cards' ids."""
    asked = sorted(set(cards))
    found: dict[str, str] = {}
    for start in range(0, len(asked), AT_ONCE):
        some = t.Card.id.in_(asked[start : start + AT_ONCE])
        found.update(
            (row.id, row.label) for row in conn.execute(select(t.Card.id, t.Card.label).where(some))
        )
    return found


def messages(
    conn: Connection,
    person: str | None,
    channel: str | None,
    at_most: int,
    states: Sequence[str] = (),
    first: int = 0,
) -> list[Row[Any]]:
    """Messages, the newest first, each with the name of whom it is for. states: none is any."""
    asked = (
        select(table(r.NoticeMessage), p.Person.name)
        .join(p.Person, p.Person.id == r.NoticeMessage.person)
        .order_by(r.NoticeMessage.made_at.desc(), r.NoticeMessage.id.desc())
        .offset(first)
        .limit(at_most)
    )
    if states:
        asked = asked.where(r.NoticeMessage.state.in_(states))
    if person is not None:
        asked = asked.where(r.NoticeMessage.person == person)
    if channel is not None:
        asked = asked.where(r.NoticeMessage.channel == channel)
    return list(conn.execute(asked))


def by_state(conn: Connection) -> dict[str, int]:
    """How many messages are in each state."""
    asked = select(r.NoticeMessage.state, func.count()).group_by(r.NoticeMessage.state)
    return {row[0]: row[1] for row in conn.execute(asked)}


def turns(conn: Connection, ids: Sequence[str]) -> list[Row[Any]]:
    """The turns in some messages."""
    s, k = r.NoticeSpell, r.NoticeTurn
    asked = (
        select(k.message, s.about, s.rule, s.severity, k.turn, k.first, k.offered)
        .join(s, s.id == k.spell)
        .where(k.message.in_(ids))
        .order_by(k.at, s.id)
    )
    return list(conn.execute(asked))


def ends(conn: Connection, ids: Sequence[str]) -> list[Row[Any]]:
    """The ends of spells in some messages."""
    s, c = r.NoticeSpell, r.NoticeAllClear
    asked = select(c.message, s.about, s.rule).join(s, s.id == c.spell).where(c.message.in_(ids))
    return list(conn.execute(asked.order_by(s.about, s.rule)))


def history(conn: Connection) -> list[Row[Any]]:
    """What was set, the newest first, with the name of who did it."""
    asked = (
        select(
            r.NoticeSetting.version, r.NoticeSetting.made_at, p.Person.name, r.NoticeSetting.said
        )
        .outerjoin(p.Person, p.Person.id == r.NoticeSetting.made_by)
        .order_by(r.NoticeSetting.version.desc())
    )
    return list(conn.execute(asked))


def snoozes(conn: Connection, now: datetime) -> list[Row[Any]]:
    """What is held back now, with the name of who said so."""
    s, k = r.NoticeSnooze, r.NoticeSpell
    about = (
        select(k.about)
        .where(k.subject == s.subject)
        .order_by(k.opened.desc(), k.id.desc())
        .limit(1)
        .scalar_subquery()
    )
    asked = (
        select(
            s.id, p.Person.name.label("owner"), s.reason, s.until, s.made_at, s.subject, s.rule,
            about.label("about"),
        )
        .join(p.Person, p.Person.id == s.owner)
        .where(s.ended_at.is_(None), s.until > now)
        .order_by(s.until, s.id)
    )  # fmt: skip
    return list(conn.execute(asked))


def ways(conn: Connection) -> list[Row[Any]]:
    """Every channel of everybody who is here, by name."""
    c = r.NoticeChannel
    asked = (
        select(c.person, p.Person.name, p.Person.role, c.channel, c.address, c.active)
        .join(p.Person, p.Person.id == c.person)
        .where(p.Person.revoked_at.is_(None))
        .order_by(p.Person.name, p.Person.id, c.channel)
    )
    return list(conn.execute(asked))


def shifts(conn: Connection) -> list[Row[Any]]:
    """Hand-overs that stand or were accepted, the newest first, with the names of both."""
    s = r.NoticeShift
    asked = (
        select(
            s.id, s.role, _GIVER.name.label("giver"), _TAKER.name.label("taker"),
            s.taker.label("taker_id"), s.offered_at, s.accepted_at, s.withdrawn_at, s.said,
            s.giver.label("giver_id"), _TAKER.revoked_at.is_(None).label("taker_here"),
        )
        .join(_GIVER, _GIVER.id == s.giver)
        .join(_TAKER, _TAKER.id == s.taker)
        .where(or_(s.withdrawn_at.is_(None), s.accepted_at.is_not(None)))
        .order_by(s.offered_at.desc(), s.id.desc())
    )  # fmt: skip
    return list(conn.execute(asked))
