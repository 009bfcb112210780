"""What people say to the reminders: later, I have it, by this channel, as we want it, yours now.

    CannotAnswer    what was said cannot be taken; the message says why, and what to do
      SetMeanwhile  it was said of a page that is old by now

Who may do which stands in `roles`; whoever calls has asked there. Here is asked only what hangs
on who was told of what.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Literal

from sqlalchemy import Connection, delete, func, select

from tracker.domain.errors import CardwrightError
from tracker.reminders.notices import read_settings
from tracker.reminders.rules import BY_NAME
from tracker.reminders.settings import QuietHours, Settings, from_json, to_json
from tracker.services.people import Person
from tracker.services.roles import MANAGERS
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


class SetMeanwhile(CannotAnswer):
    """It is another way by now than the page showed: whoever said it looks again."""


# Later


def snooze(
    service: Service,
    who: Person,
    *,
    until: datetime,
    reason: str,
    subject: str | None = None,
    rule: str | None = None,
    tap: str | None = None,
) -> str:
    """Hold notices back until a time; the id by which that can be ended. Errors: CannotAnswer.

    subject, rule: of which condition; without one of them, of every one of the other. tap: the id
    of the tap that says it, which becomes that of the snooze: said twice, it is there once.
    """
    now = service.clock()
    if subject is None and rule is None:
        raise CannotAnswer("Say what is to wait: a card, a roll, or a rule.")
    if not now < until <= now + SNOOZE_AT_MOST:
        raise CannotAnswer(
            f"Say until when: later than now, by {SNOOZE_AT_MOST.days} days at most."
        )
    snooze_id = tap or new_id()
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
    known = select(r.NoticeSnooze.id).where(r.NoticeSnooze.id == snooze_id)
    with service.store.writing() as conn:
        if conn.scalar(known) is None:
            rows.add(conn, r.NoticeSnooze, [row])
    return snooze_id


def end_snooze(service: Service, who: Person, snooze_id: str) -> None:
    """Let notices go again before the time, also where another held back the same.

    Errors: CannotAnswer.
    """
    s, now = r.NoticeSnooze, service.clock()
    with service.store.writing() as conn:
        one = conn.execute(
            select(s.subject, s.rule).where(s.id == snooze_id, s.ended_at.is_(None), s.until > now)
        ).first()
        if one is None:
            raise CannotAnswer("That is not held back any more.")
        same = (
            s.subject.is_not_distinct_from(one.subject)
            & s.rule.is_not_distinct_from(one.rule)
            & s.ended_at.is_(None)
            & (s.until > now)
        )
        rows.change(conn, s, same, ended_at=now, ended_by=who.id)


# I have it


def take(service: Service, who: Person, spell: str, *, shown: str | None = None) -> None:
    """Say: I have it. From now on only they hear of it. Errors: CannotAnswer, SetMeanwhile.

    Only of those roles that were told of it, or of those that manage. shown: the name of whom the
    page showed to have it, "" for nobody; None where it is not to be asked.
    """
    with service.store.writing() as conn:
        going_on = select(r.NoticeSpell.rule).where(
            r.NoticeSpell.id == spell, r.NoticeSpell.ended.is_(None)
        )
        rule = conn.scalar(going_on)
        if rule is None:
            raise CannotAnswer("That is settled already.")
        if who.role not in MANAGERS | _told(conn, spell, rule):
            raise CannotAnswer(
                "Your role is not told of that: only whoever is told, a data manager or an "
                "administrator can take it on. Tell one of them what you know."
            )
        _as_shown(conn, spell, shown)
        mine = r.NoticeHeld.spell == spell
        if not rows.change(conn, r.NoticeHeld, mine, person=who.id, since=service.clock()):
            row = {"spell": spell, "person": who.id, "since": service.clock()}
            rows.add(conn, r.NoticeHeld, [row])


def _told(conn: Connection, spell: str, rule: str) -> set[str]:
    """The roles that are told of something, by its rule, or since it went on to them."""
    usual = BY_NAME[rule].who if rule in BY_NAME else ()
    gone_on = select(r.NoticeEscalation.role).where(r.NoticeEscalation.spell == spell)
    were = (
        select(p.Person.role)
        .join(r.NoticeTurn, r.NoticeTurn.person == p.Person.id)
        .where(r.NoticeTurn.spell == spell)
    )
    return {*usual, *conn.scalars(gone_on), *conn.scalars(were)}


def _as_shown(conn: Connection, spell: str, shown: str | None) -> None:
    """Errors: SetMeanwhile where somebody else has it than the page showed."""
    if shown is None:
        return
    asked = (
        select(p.Person.name)
        .join(r.NoticeHeld, r.NoticeHeld.person == p.Person.id)
        .where(r.NoticeHeld.spell == spell, p.Person.revoked_at.is_(None))
    )
    holder = conn.scalar(asked) or ""
    if holder != shown:
        now = f"{holder} has it by now" if holder else "Nobody has it any more"
        raise SetMeanwhile(f"{now}: look, and say it once more if it is to be so.")


def give_back(service: Service, spell: str, who: Person | None = None) -> None:
    """Nobody has it any more: it goes to everybody again. Nothing to do is fine.

    who: whoever says so; only they themselves have it, or a manager says it for them.
    """
    mine = r.NoticeHeld.spell == spell
    if who is not None and who.role not in MANAGERS:
        mine = mine & (r.NoticeHeld.person == who.id)
    with service.store.writing() as conn:
        conn.execute(delete(r.NoticeHeld).where(mine))


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
    service: Service,
    who: Person | None,
    said: Mapping[str, Any] | Settings,
    *,
    after: int | None = None,
) -> Settings:
    """Set what holds for the reminders; what was set before is kept.

    said: as `reminders.settings.from_json` takes it, all of it. who: None for whoever has the
    data folder. after: the version that was looked at, 0 where there was none; None where it is
    not to be asked. Errors: BadSetting, SetMeanwhile.
    """
    settings = from_json(to_json(said) if isinstance(said, Settings) else said)
    with service.store.writing() as conn:
        newest = _newest_version(conn)
        if after is not None and newest != after:
            raise SetMeanwhile(
                "The reminders were set anew since this page was drawn: below stands how they are "
                "set now. Look, and set it once more."
            )
        _set(conn, service, who, settings)
    return settings


def _newest_version(conn: Connection) -> int:
    return conn.scalar(select(func.max(r.NoticeSetting.version))) or 0


def _set(conn: Connection, service: Service, who: Person | None, settings: Settings) -> None:
    row = {
        "version": _newest_version(conn) + 1,
        "made_at": service.clock(),
        "made_by": None if who is None else who.id,
        "said": to_json(settings),
    }
    rows.add(conn, r.NoticeSetting, [row])


def drop_channel(service: Service, person: str, channel: str) -> None:
    """Tell somebody by this channel no more. Nothing to do is fine."""
    mine = (r.NoticeChannel.person == person) & (r.NoticeChannel.channel == channel)
    with service.store.writing() as conn:
        conn.execute(delete(r.NoticeChannel).where(mine))


def set_own_quiet(service: Service, who: Person, hours: QuietHours | Literal[False] | None) -> None:
    """One's own quiet hours; None: I have none; False: as the production has them."""
    with service.store.writing() as conn:
        before = read_settings(conn)
        quiet_of = {person: own for person, own in before.quiet_of.items() if person != who.id}
        if hours is not False:
            quiet_of[who.id] = hours
        _set(conn, service, who, from_json(to_json(replace(before, quiet_of=quiet_of))))


# Yours now


def offer_shift(
    service: Service, who: Person, role: str, taker: str, said: Mapping[str, Any]
) -> str:
    """Hand the notices of a role over to somebody, who is to accept them; the id of that.

    taker: by id; another one, of those who manage. said: the list that is handed over. An offer
    that was not accepted is withdrawn by the next one. Errors: CannotAnswer.
    """
    now = service.clock()
    with service.store.writing() as conn:
        _must_be_here(conn, taker)
        has = rows.on_shift(conn).get(role)
        if has not in (None, who.id) and who.role != "administrator" and _is_here(conn, has):
            raise CannotAnswer(
                "Somebody else has the notices now: they hand them over, or let them go."
            )
        if taker == who.id:
            raise CannotAnswer("Choose somebody else: one hands over to another person.")
        if conn.scalar(select(p.Person.role).where(p.Person.id == taker)) not in MANAGERS:
            raise CannotAnswer("Choose a data manager or an administrator to take it over.")
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


def let_go_of_shift(service: Service, who: Person, shift: str) -> None:
    """The notices that somebody took over go to everybody of the role again. Errors: CannotAnswer.

    Whoever took them over, whoever gave them, or an administrator.
    """
    s = r.NoticeShift
    mine = (s.id == shift) & s.accepted_at.is_not(None) & s.withdrawn_at.is_(None)
    if who.role != "administrator":
        mine = mine & ((s.taker == who.id) | (s.giver == who.id))
    with service.store.writing() as conn:
        if not rows.change(conn, s, mine, withdrawn_at=service.clock()):
            raise CannotAnswer(
                "That is not yours to let go, or it is over already: whoever took it over, whoever "
                "gave it, or an administrator lets it go."
            )


def _must_be_here(conn: Connection, person: str) -> None:
    if not _is_here(conn, person):
        raise CannotAnswer("That person is not here.")


def _is_here(conn: Connection, person: str | None) -> bool:
    here = select(p.Person.id).where(p.Person.id == person, p.Person.revoked_at.is_(None))
    return conn.scalar(here) is not None


def _text(said: str, missing: str) -> str:
    text = said.strip()
    if not text:
        raise CannotAnswer(missing)
    if len(text) > LONGEST_TEXT:
        raise CannotAnswer(f"That is too long: {LONGEST_TEXT} characters at most.")
    return text
