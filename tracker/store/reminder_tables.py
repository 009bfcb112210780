"""The tables of the reminders: what was decided, what went to whom, and what people said to it.

They do not follow from the journal, and the journal does not know of them. Keys decide: a spell, a
turn, a list of the morning and an all-clear are each there once, whoever writes.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, ForeignKey, Index, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from tracker.store.tables import Base


class NoticeClock(Base):
    """The one row that every tick writes.

    generation: moves on with each, so that of two that looked at the same time one begins again.
    last_tick: the heartbeat. error: what went wrong in it; None if nothing did.
    """

    __tablename__ = "notice_clock"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    generation: Mapped[int] = mapped_column(BigInteger)
    begun_at: Mapped[datetime]
    last_tick: Mapped[datetime]
    error: Mapped[str | None] = mapped_column(Text)


class NoticeSpell(Base):
    """A stretch in which a condition holds: see `reminders.turns.Spell`.

    about: the name of what it is about; no words of people. delay, repeat: microseconds. done:
    nothing more is to be said of it.
    """

    __tablename__ = "notice_spell"

    id: Mapped[str] = mapped_column(primary_key=True)
    subject: Mapped[str]
    rule: Mapped[str]
    number: Mapped[int]
    about: Mapped[str]
    severity: Mapped[str]
    opened: Mapped[datetime]
    anchor: Mapped[datetime]
    delay: Mapped[int] = mapped_column(BigInteger)
    repeat: Mapped[int | None] = mapped_column(BigInteger)
    all_clear: Mapped[bool]
    gone: Mapped[datetime | None]
    ended: Mapped[datetime | None]
    done: Mapped[bool]

    __table_args__ = (UniqueConstraint("subject", "rule", "number"), Index(None, "done"))


class NoticeMessage(Base):
    """One message to one person by one channel. Its id is the same over all tries.

    state: queued, leased, sent, retried, dead or superseded. attempts: how often it was handed
    on. next_try: not before; None where it may go at once. leased_by: who hands it on, until
    lease_until. unsure: a try of it ended without an answer, so that it may have arrived. title,
    body: as it was handed on last; None before, and after they were cleared away.
    """

    __tablename__ = "notice_message"

    id: Mapped[str] = mapped_column(primary_key=True)
    person: Mapped[str] = mapped_column(ForeignKey("person.id"))
    channel: Mapped[str]
    made_at: Mapped[datetime]
    state: Mapped[str]
    danger: Mapped[bool]
    attempts: Mapped[int]
    next_try: Mapped[datetime | None]
    leased_by: Mapped[str | None]
    lease_until: Mapped[datetime | None]
    unsure: Mapped[bool]
    sent_at: Mapped[datetime | None]
    error: Mapped[str | None] = mapped_column(Text)
    title: Mapped[str | None] = mapped_column(Text)
    body: Mapped[str | None] = mapped_column(Text)

    __table_args__ = (Index(None, "state"), Index(None, "person", "made_at"))


class NoticeTurn(Base):
    """A decision that a turn goes to a person by a channel, in a message.

    first: the first of the turns that it stands for; those before `turn` are collapsed into it.
    offered: whether it was in the message when that was handed on.
    """

    __tablename__ = "notice_turn"

    spell: Mapped[str] = mapped_column(ForeignKey("notice_spell.id"), primary_key=True)
    person: Mapped[str] = mapped_column(primary_key=True)
    channel: Mapped[str] = mapped_column(primary_key=True)
    turn: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    first: Mapped[int] = mapped_column(BigInteger)
    at: Mapped[datetime]
    decided: Mapped[datetime]
    message: Mapped[str] = mapped_column(ForeignKey("notice_message.id"), index=True)
    offered: Mapped[bool]


class NoticeAllClear(Base):
    """A decision that somebody hears of the end of a spell, once."""

    __tablename__ = "notice_all_clear"

    spell: Mapped[str] = mapped_column(ForeignKey("notice_spell.id"), primary_key=True)
    person: Mapped[str] = mapped_column(primary_key=True)
    channel: Mapped[str] = mapped_column(primary_key=True)
    decided: Mapped[datetime]
    message: Mapped[str] = mapped_column(ForeignKey("notice_message.id"), index=True)


class NoticeDigest(Base):
    """A decision on the list of the morning of a local date, as in 2026-03-02.

    missed: how many dates before it had none. message: None where nothing stood on the list.
    """

    __tablename__ = "notice_digest"

    person: Mapped[str] = mapped_column(ForeignKey("person.id"), primary_key=True)
    channel: Mapped[str] = mapped_column(primary_key=True)
    day: Mapped[str] = mapped_column(primary_key=True)
    decided: Mapped[datetime]
    missed: Mapped[int]
    message: Mapped[str | None] = mapped_column(ForeignKey("notice_message.id"), index=True)


class NoticeEscalation(Base):
    """A danger that nobody answered went on to another role. step: how often, from 1."""

    __tablename__ = "notice_escalation"

    spell: Mapped[str] = mapped_column(ForeignKey("notice_spell.id"), primary_key=True)
    step: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    role: Mapped[str]
    decided: Mapped[datetime]


class NoticeHeld(Base):
    """Somebody said: I have it. Of one spell, until it ends or they give it back."""

    __tablename__ = "notice_held"

    spell: Mapped[str] = mapped_column(ForeignKey("notice_spell.id"), primary_key=True)
    person: Mapped[str] = mapped_column(ForeignKey("person.id"))
    since: Mapped[datetime]


class NoticeSnooze(Base):
    """Somebody holds notices back until a time. subject, rule: None means any."""

    __tablename__ = "notice_snooze"

    id: Mapped[str] = mapped_column(primary_key=True)
    owner: Mapped[str] = mapped_column(ForeignKey("person.id"))
    reason: Mapped[str] = mapped_column(Text)
    subject: Mapped[str | None]
    rule: Mapped[str | None]
    made_at: Mapped[datetime]
    until: Mapped[datetime]
    ended_at: Mapped[datetime | None]
    ended_by: Mapped[str | None]


class NoticeSetting(Base):
    """What a production sets for its reminders, each time that it was set: the last one counts."""

    __tablename__ = "notice_setting"

    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    made_at: Mapped[datetime]
    made_by: Mapped[str | None]
    said: Mapped[dict[str, Any]] = mapped_column(JSON)


class NoticeChannel(Base):
    """By what a person is told besides the page. channel: mail, webhook or apprise."""

    __tablename__ = "notice_channel"

    person: Mapped[str] = mapped_column(ForeignKey("person.id"), primary_key=True)
    channel: Mapped[str] = mapped_column(primary_key=True)
    address: Mapped[str] = mapped_column(Text)
    active: Mapped[bool]
    since: Mapped[datetime]


class NoticeShift(Base):
    """The notices of a role are handed over from one person to the next, who accepts them.

    said: the list that was handed over.
    """

    __tablename__ = "notice_shift"

    id: Mapped[str] = mapped_column(primary_key=True)
    role: Mapped[str]
    giver: Mapped[str] = mapped_column(ForeignKey("person.id"))
    taker: Mapped[str] = mapped_column(ForeignKey("person.id"))
    offered_at: Mapped[datetime]
    accepted_at: Mapped[datetime | None]
    withdrawn_at: Mapped[datetime | None]
    said: Mapped[dict[str, Any]] = mapped_column(JSON)
