"""What people say to the reminders: later, I have it, by this channel, as we want it, yours now.

    CannotAnswer    what was said cannot be taken; the message says why, and what to do

Who may do which stands in `roles`; whoever calls has asked there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Literal

from sqlalchemy import Connection, delete, func, select

from tracker.domain.errors import CardwrightError
from tracker.reminders.notices import read_settings
from tracker.reminders.settings import QuietHours, Settings, from_json, to_json
from tracker.services.people import Person
from tracker.services.service import Service, new_id
from tracker.store import people_tables as p
from tracker.store import reminder_rows as rows
from tracker.store import reminder_tables as r

SNOOZE_AT_MOST = timedelta(days=7)
"""Longer than this nobody holds a notice back; common practice, no source."""
CHANNELS = ("mail", "webhook", "apprise")
LONGEST_TEXT = 500
"""Characters."""


class CannotAnswer(CardwrightError):
    """What was said to the reminders cannot be taken."""


# Later


def snooze(
    service: Service,
    who: Person,
    *,
    until: datetime,
    reason: str,
    subject: str | None = None,
    rule: str | None = None,
) -> str:
    """Hold notices back until a time; the id by which that can be ended. Errors: CannotAnswer.

    subject, rule: of which condition; without one of them, of every one of the other.
    """
    now = service.clock()
    if subject is None and rule is None:
        raise CannotAnswer("Say what is to wait: a card, a roll, or a rule.")
    if not now < until <= now + SNOOZE_AT_MOST:
        raise CannotAnswer(
            f"Say until when: later than now, by {SNOOZE_AT_MOST.days} days at most."
        )
    snooze_id = new_id()
    row = {
        "id": snooze_id,
        "owner": who.id,
        "reason": _text(reason, "Say why it is to wait."),
        "subject": subject,
        "rule": rule,
        "made_at": now,
        "until": until,
        "ended_at": None,
        "ended_by": None,
    }
    with service.store.writing() as conn:
        rows.add(conn, r.NoticeSnooze, [row])
    return snooze_id


def end_snooze(service: Service, who: Person, snooze_id: str) -> None:
    """Let notices go again before the time. Errors: CannotAnswer."""
    mine = (r.NoticeSnooze.id == snooze_id) & r.NoticeSnooze.ended_at.is_(None)
    with service.store.writing() as conn:
        now = service.clock()
        if not rows.change(conn, r.NoticeSnooze, mine, ended_at=now, ended_by=who.id):
            raise CannotAnswer("That is not held back any more.")


# I have it


def take(service: Service, who: Person, spell: str) -> None:
    """Say: I have it. From now on only they hear of it. Errors: CannotAnswer."""
    with service.store.writing() as conn:
        going_on = select(r.NoticeSpell.id).where(
            r.NoticeSpell.id == spell, r.NoticeSpell.ended.is_(None)
        )
        if conn.scalar(going_on) is None:
            raise CannotAnswer("That is settled already.")
        mine = r.NoticeHeld.spell == spell
        if not rows.change(conn, r.NoticeHeld, mine, person=who.id, since=service.clock()):
            row = {"spell": spell, "person": who.id, "since": service.clock()}
            rows.add(conn, r.NoticeHeld, [row])


def give_back(service: Service, spell: str) -> None:
    """Nobody has it any more: it goes to everybody again. Nothing to do is fine."""
    with service.store.writing() as conn:
        conn.execute(delete(r.NoticeHeld).where(r.NoticeHeld.spell == spell))


# By what channel, and as the production wants it


def set_channel(
    service: Service, person: str, channel: str, address: str, *, active: bool = True
) -> None:
    """Say by what somebody is told besides the page. person: by id. Errors: CannotAnswer."""
    if channel not in CHANNELS:
        raise CannotAnswer(f"There is no channel {channel!r}: there are {', '.join(CHANNELS)}.")
    said = _text(address, "Give an address.")
    with service.store.writing() as conn:
        _must_be_here(conn, person)
        mine = (r.NoticeChannel.person == person) & (r.NoticeChannel.channel == channel)
        if not rows.change(conn, r.NoticeChannel, mine, address=said, active=active):
            row = {
                "person": person,
                "channel": channel,
                "address": said,
                "active": active,
                "since": service.clock(),
            }
            rows.add(conn, r.NoticeChannel, [row])


def set_settings(
    service: Service, who: Person | None, said: Mapping[str, Any] | Settings
) -> Settings:
    """Set what holds for the reminders; what was set before is kept. Errors: BadSetting.

    said: as `reminders.settings.from_json` takes it, all of it. who: None for whoever has the
    data folder.
    """
    settings = from_json(to_json(said) if isinstance(said, Settings) else said)
    with service.store.writing() as conn:
        newest = conn.scalar(select(func.max(r.NoticeSetting.version))) or 0
        row = {
            "version": newest + 1,
            "made_at": service.clock(),
            "made_by": None if who is None else who.id,
            "said": to_json(settings),
        }
        rows.add(conn, r.NoticeSetting, [row])
    return settings


def drop_channel(service: Service, person: str, channel: str) -> None:
    """Tell somebody by this channel no more. Nothing to do is fine."""
    mine = (r.NoticeChannel.person == person) & (r.NoticeChannel.channel == channel)
    with service.store.writing() as conn:
        conn.execute(delete(r.NoticeChannel).where(mine))


def set_own_quiet(service: Service, who: Person, hours: QuietHours | Literal[False] | None) -> None:
    """One's own quiet hours; None: I have none; False: as the production has them."""
    with service.store.reading() as conn:
        before = read_settings(conn)
    quiet_of = {person: own for person, own in before.quiet_of.items() if person != who.id}
    if hours is not False:
        quiet_of[who.id] = hours
    set_settings(service, who, replace(before, quiet_of=quiet_of))


# Yours now


def offer_shift(
    service: Service, who: Person, role: str, taker: str, said: Mapping[str, Any]
) -> str:
    """Hand the notices of a role over to somebody, who is to accept them; the id of that.

    taker: by id. said: the list that is handed over. An offer that was not accepted is withdrawn
    by the next one. Errors: CannotAnswer.
    """
    now = service.clock()
    with service.store.writing() as conn:
        _must_be_here(conn, taker)
        open_ones = (
            (r.NoticeShift.role == role)
            & r.NoticeShift.accepted_at.is_(None)
            & r.NoticeShift.withdrawn_at.is_(None)
        )
        rows.change(conn, r.NoticeShift, open_ones, withdrawn_at=now)
        row = {
            "id": new_id(),
            "role": role,
            "giver": who.id,
            "taker": taker,
            "offered_at": now,
            "accepted_at": None,
            "withdrawn_at": None,
            "said": dict(said),
        }
        rows.add(conn, r.NoticeShift, [row])
    return str(row["id"])


def accept_shift(service: Service, who: Person, shift: str) -> None:
    """Take the notices of a role over: from now on they come to them. Errors: CannotAnswer."""
    mine = (
        (r.NoticeShift.id == shift)
        & (r.NoticeShift.taker == who.id)
        & r.NoticeShift.accepted_at.is_(None)
        & r.NoticeShift.withdrawn_at.is_(None)
    )
    with service.store.writing() as conn:
        if not rows.change(conn, r.NoticeShift, mine, accepted_at=service.clock()):
            raise CannotAnswer("There is nothing of that to accept for you: ask for it again.")


def withdraw_shift(service: Service, who: Person, shift: str) -> None:
    """Take an offer back that was not accepted. Errors: CannotAnswer."""
    mine = (
        (r.NoticeShift.id == shift)
        & (r.NoticeShift.giver == who.id)
        & r.NoticeShift.accepted_at.is_(None)
        & r.NoticeShift.withdrawn_at.is_(None)
    )
    with service.store.writing() as conn:
        if not rows.change(conn, r.NoticeShift, mine, withdrawn_at=service.clock()):
            raise CannotAnswer("That was accepted already, or taken back.")


def _must_be_here(conn: Connection, person: str) -> None:
    here = select(p.Person.id).where(p.Person.id == person, p.Person.revoked_at.is_(None))
    if conn.scalar(here) is None:
        raise CannotAnswer("That person is not here.")


def _text(said: str, missing: str) -> str:
    text = said.strip()
    if not text:
        raise CannotAnswer(missing)
    if len(text) > LONGEST_TEXT:
        raise CannotAnswer(f"That is too long: {LONGEST_TEXT} characters at most.")
    return text
