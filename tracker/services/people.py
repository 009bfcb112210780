"""The people of a production: how they come in, how they are known again, how they are let out.

    NotAllowed       their role may not do that
    LinkSpent        a link that was used, withdrawn, has run out, or never was
    BadName          a name that cannot be given, or that somebody has

Besides, BadPassphrase and TooManyTries, of `passphrases`. A secret token is given out once, and
only its digest is kept. What comes in by a token has a role: `roles.may` says what it may do.
"""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal, get_args

from sqlalchemy import Connection, insert, select, update

from tracker.domain.errors import CardwrightError
from tracker.services.acts import looking_first
from tracker.services.passphrases import (
    BadPassphrase,
    count_try,
    forget_tries,
    hash_of,
    is_dated,
    is_right,
)
from tracker.services.roles import ROLES, may
from tracker.services.service import Service, new_id
from tracker.store import people_tables as p
from tracker.store.rows import table
from tracker.store.tables import SetupLink

INVITATION_HOLDS = timedelta(days=7)
SESSION_HOLDS = timedelta(days=14)
SEEN_EVERY = timedelta(minutes=5)
"""How exactly it is kept when a session or token was used last: not each page is a write."""

LONGEST_NAME, LONGEST_AGENT = 80, 200
"""Characters."""

NOT_TOGETHER = "That name and that passphrase do not go together."

Scope = Literal["calendar", "look", "log", "history"]


class NotAllowed(CardwrightError):
    """Somebody's role may not do that. action: which right is missing."""

    def __init__(self, action: str, why: str) -> None:
        self.action = action
        super().__init__(why)


class LinkSpent(CardwrightError):
    """A link that lets nobody in, or not any more."""

    def __init__(self) -> None:
        super().__init__("This link was used, or has run out: ask for a new one.")


class BadName(CardwrightError):
    """A name that cannot be given, or that somebody has."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who belongs here. device: the id of what they came in by, if they did."""

    id: str
    name: str
    role: str
    device: str | None = None


@dataclass(frozen=True, slots=True)
class Session:
    """A browser in which somebody is signed in, as they may see it. Times are aware."""

    device: str
    agent: str
    made_at: datetime
    last_seen: datetime
    until: datetime


# Joining


def set_up_first(
    service: Service, token: str, name: str, passphrase: str, *, agent: str = ""
) -> str:
    """Make the administrator by the one-time link of the production; the token of a session.

    Errors: LinkSpent, BadName, BadPassphrase.
    """
    link = (SetupLink.token_sha256 == _digest(token), SetupLink.used_at.is_(None))
    with service.store.reading() as conn:
        _unspent(conn, SetupLink, link, service.clock())
    name, kept = _name(name), hash_of(passphrase)
    with looking_first(service) as conn:
        _unspent(conn, SetupLink, link, service.clock())
        conn.execute(update(SetupLink).where(*link).values(used_at=service.clock()))
        person = _join(service, conn, name, "administrator", kept)
        return _begin(service, conn, person, agent)


def awaits_set_up(service: Service, token: str) -> bool:
    """Whether the one-time link of the production still lets somebody in."""
    link = (SetupLink.token_sha256 == _digest(token), SetupLink.used_at.is_(None))
    with service.store.reading() as conn:
        try:
            _unspent(conn, SetupLink, link, service.clock())
        except LinkSpent:
            return False
    return True


def invite(service: Service, who: Person, role: str, name: str) -> str:
    """The token of a link by which that person joins, within 7 days. One made before is withdrawn.

    Errors: NotAllowed, BadName; LookupError for a role that is none.
    """
    if role not in ROLES:
        raise LookupError(f"no role is called {role!r}; there are: {', '.join(ROLES)}")
    name = _name(name)
    token = secrets.token_urlsafe(32)
    now = service.clock()
    with looking_first(service) as conn:
        _must(conn, who, "invite")
        _free(conn, name)
        _withdraw(conn, name, now)
        row = {"token_sha256": _digest(token), "role": role, "name": name, "made_by": who.id,
               "made_at": now, "until": now + INVITATION_HOLDS}  # fmt: skip
        conn.execute(insert(table(p.Invitation)).values(row))
    return token


def withdraw_invitation(service: Service, who: Person, name: str) -> None:
    """An invitation that was not used yet lets nobody in any more. Errors: NotAllowed, BadName."""
    with looking_first(service) as conn:
        _must(conn, who, "invite")
        _withdraw(conn, _name(name), service.clock())


def accept(service: Service, token: str, passphrase: str, agent: str) -> str:
    """Join by an invitation, with a passphrase of one's own; the token of a session.

    Errors: LinkSpent, BadPassphrase, BadName if somebody has taken the name since.
    """
    link = (
        p.Invitation.token_sha256 == _digest(token),
        p.Invitation.used_at.is_(None),
        p.Invitation.revoked_at.is_(None),
    )
    with service.store.reading() as conn:
        _unspent(conn, p.Invitation, link, service.clock())
    kept = hash_of(passphrase)
    with looking_first(service) as conn:
        found = _unspent(conn, p.Invitation, link, service.clock())
        conn.execute(update(p.Invitation).where(*link).values(used_at=service.clock()))
        return _begin(service, conn, _join(service, conn, found.name, found.role, kept), agent)


def _unspent(conn: Connection, of: Any, link: tuple[Any, ...], now: datetime) -> Any:
    row = conn.execute(select(table(of)).where(*link, of.until > now)).one_or_none()
    if row is None:
        raise LinkSpent
    return row


def _join(service: Service, conn: Connection, name: str, role: str, kept: str | None) -> str:
    _free(conn, name)
    person = new_id()
    row = {"id": person, "name": name, "role": role, "passphrase_hash": kept,
           "made_at": service.clock()}  # fmt: skip
    conn.execute(insert(table(p.Person)).values(row))
    return person


def _withdraw(conn: Connection, name: str, now: datetime) -> None:
    pending = select(p.Invitation.token_sha256, p.Invitation.name).where(
        p.Invitation.used_at.is_(None), p.Invitation.revoked_at.is_(None)
    )
    found = [row.token_sha256 for row in conn.execute(pending) if _same(row.name, name)]
    _end(conn, now, p.Invitation, p.Invitation.token_sha256.in_(found))


def _name(name: str) -> str:
    """A name as it is kept: one space between its words."""
    name = " ".join(unicodedata.normalize("NFC", name).split())
    if not 1 <= len(name) <= LONGEST_NAME or not name.isprintable():
        raise BadName(f"A name has 1 to {LONGEST_NAME} characters that can be printed.")
    return name


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()


def _free(conn: Connection, name: str) -> None:
    if _called(conn, name) is not None:
        raise BadName(f"Somebody here is called {name}: add a surname or a department.")


def _called(conn: Connection, name: str) -> Any:
    """Who has that name here, whatever its case; None if nobody has."""
    people = conn.execute(select(table(p.Person)).where(p.Person.revoked_at.is_(None)))
    return next((row for row in people if _same(row.name, name)), None)


def person_called(service: Service, name: str) -> Person:
    """Who has that name here, whatever its case. Errors: BadName if nobody has."""
    with service.store.reading() as conn:
        row = _called(conn, _name(name))
    if row is None:
        raise BadName(f"Nobody here is called {name}.")
    return Person(row.id, row.name, row.role)


# Signing in and out


def sign_in(service: Service, name: str, passphrase: str, agent: str, address: str) -> str:
    """The token of a new session. address: where they come from, as text.

    Errors: BadPassphrase, the same for a name that nobody has; TooManyTries.
    """
    name = " ".join(unicodedata.normalize("NFC", name).split()).casefold()
    count_try(service, name, address)
    with service.store.reading() as conn:
        row = _called(conn, name)
    # Outside of any transaction: it takes long, and others want to write.
    right = is_right(row.passphrase_hash if row else None, passphrase)
    if row is None or not right:
        raise BadPassphrase(NOT_TOGETHER)
    anew = hash_of(passphrase) if is_dated(row.passphrase_hash) else None
    with looking_first(service) as conn:
        # They may have been let out meanwhile.
        if _here(conn, row.id) is None:
            raise BadPassphrase(NOT_TOGETHER)
        forget_tries(conn, name, address)
        if anew is not None:
            mine = update(p.Person).where(p.Person.id == row.id)
            conn.execute(mine.values(passphrase_hash=anew))
        return _begin(service, conn, row.id, agent)


def let_in(service: Service, name: str, role: str, agent: str) -> str:
    """Somebody new, who has no passphrase and so no other way in; the token of a session.

    For the demo, and whoever else puts a production together. Errors: BadName.
    """
    if role not in ROLES:
        raise LookupError(f"no role is called {role!r}; there are: {', '.join(ROLES)}")
    name = _name(name)
    with looking_first(service) as conn:
        return _begin(service, conn, _join(service, conn, name, role, None), agent)


def session_of(service: Service, token: str) -> Person | None:
    """Who is signed in by that token; None if nobody is. Its 14 days begin anew."""
    now = service.clock()
    mine = (p.Session.token_sha256 == _digest(token), p.Session.revoked_at.is_(None))
    asked = (
        select(p.Person.id, p.Person.name, p.Person.role, p.Session.device, p.Session.last_seen)
        .join_from(p.Session, p.Person)
        .where(*mine, p.Session.until > now, p.Person.revoked_at.is_(None))
    )
    with service.store.reading() as conn:
        row = conn.execute(asked).one_or_none()
    if row is None:
        return None
    if now - row.last_seen >= SEEN_EVERY:
        with service.store.writing() as conn:
            seen = update(p.Session).where(*mine)
            conn.execute(seen.values(last_seen=now, until=now + SESSION_HOLDS))
    return Person(row.id, row.name, row.role, row.device)


def sign_out(service: Service, token: str) -> None:
    """That session ends. Nothing to do is fine."""
    with service.store.writing() as conn:
        _end(conn, service.clock(), p.Session, p.Session.token_sha256 == _digest(token))


def sessions(service: Service, person: Person) -> list[Session]:
    """Where a person is signed in, seen last first."""
    asked = (
        select(table(p.Session))
        .where(
            p.Session.person == person.id,
            p.Session.revoked_at.is_(None),
            p.Session.until > service.clock(),
        )
        .order_by(p.Session.last_seen.desc(), p.Session.device)
    )
    with service.store.reading() as conn:
        return [
            Session(row.device, row.agent, row.made_at, row.last_seen, row.until)
            for row in conn.execute(asked)
        ]


def revoke_session(service: Service, who: Person, device: str) -> None:
    """The session on a device ends: one's own always may. Errors: NotAllowed."""
    with looking_first(service) as conn:
        mine = select(p.Session.person).where(p.Session.device == device)
        if conn.scalar(mine) != who.id:
            _must(conn, who, "revoke")
        _end(conn, service.clock(), p.Session, p.Session.device == device)


def revoke_others(service: Service, who: Person) -> None:
    """All sessions of a person end but that on the device by which they ask."""
    with looking_first(service) as conn:
        _end_others(service, conn, who)


def change_passphrase(service: Service, who: Person, old: str, new: str, address: str) -> None:
    """Another passphrase for oneself, by the one that counts now; all other sessions end.

    Errors: BadPassphrase, for either; TooManyTries, counted with those of signing in.
    """
    name = who.name.casefold()
    count_try(service, name, address)
    mine = (p.Person.id == who.id, p.Person.revoked_at.is_(None))
    with service.store.reading() as conn:
        kept = conn.scalar(select(p.Person.passphrase_hash).where(*mine))
    # Outside of any transaction, as when signing in.
    if not is_right(kept, old):
        raise BadPassphrase("That is not the passphrase that you have now.")
    with service.store.writing() as conn:
        forget_tries(conn, name, address)
    anew = hash_of(new)
    with looking_first(service) as conn:
        # Only in place of the one that was given: it may have been changed meanwhile.
        stands = (*mine, p.Person.passphrase_hash == kept)
        changed = conn.execute(update(p.Person).where(*stands).values(passphrase_hash=anew))
        if not changed.rowcount:
            raise BadPassphrase("It was changed meanwhile, elsewhere: sign in again.")
        _end_others(service, conn, who)


def _end_others(service: Service, conn: Connection, who: Person) -> None:
    others = (p.Session.person == who.id) & (p.Session.device != (who.device or ""))
    _end(conn, service.clock(), p.Session, others)


def revoke_person(service: Service, who: Person, person: str) -> None:
    """A person, by their id, is let out, with their sessions, their tokens and whom they invited.

    Errors: NotAllowed, also for the last administrator: nobody could let anybody in again.
    """
    with looking_first(service) as conn:
        _must(conn, who, "revoke")
        others = select(p.Person.id).where(
            p.Person.role == "administrator", p.Person.revoked_at.is_(None), p.Person.id != person
        )
        if conn.scalar(others.limit(1)) is None:
            raise NotAllowed("revoke", "There must be an administrator: invite another one first.")
        now = service.clock()
        _end(conn, now, p.Person, p.Person.id == person)
        _end(conn, now, p.Session, p.Session.person == person)
        _end(conn, now, p.ApiToken, p.ApiToken.person == person)
        unused = p.Invitation.used_at.is_(None)
        _end(conn, now, p.Invitation, unused & (p.Invitation.made_by == person))


def _begin(service: Service, conn: Connection, person: str, agent: str) -> str:
    token = secrets.token_urlsafe(32)
    now = service.clock()
    # PostgreSQL takes no NUL, and a browser says what it likes.
    shown = "".join(c for c in agent if c.isprintable())[:LONGEST_AGENT]
    row = {"token_sha256": _digest(token), "person": person, "device": new_id(), "made_at": now,
           "last_seen": now, "until": now + SESSION_HOLDS, "agent": shown}  # fmt: skip
    conn.execute(insert(table(p.Session)).values(row))
    return token


def _end(conn: Connection, now: datetime, of: Any, which: Any) -> None:
    conn.execute(update(of).where(which, of.revoked_at.is_(None)).values(revoked_at=now))


def _here(conn: Connection, person: str) -> str | None:
    """The role of somebody who was not let out; None for anybody else."""
    here = select(p.Person.role).where(p.Person.id == person, p.Person.revoked_at.is_(None))
    return conn.scalar(here)


def _must(conn: Connection, who: Person, action: str) -> None:
    # Their role as it is now: they may have been let out since they came in.
    role = _here(conn, who.id)
    if role is None or not may(role, action):
        raise NotAllowed(action, f"Your role, {who.role}, may not do that: {action}.")


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


# Tokens for programs


def make_token(
    service: Service, person: Person, name: str, scope: Scope, until: datetime | None
) -> str:
    """A token by which a program acts for a person. until: aware; None if it does not run out.

    scope: calendar (nothing but the calendar of what is due), look (read), log (and log what
    happens now), history (and log what happened before).
    Errors: NotAllowed, BadName; ValueError for a scope that is none or an end that is past.
    """
    now = service.clock()
    if scope not in get_args(Scope):
        raise ValueError(f"no scope is called {scope!r}; there are: {', '.join(get_args(Scope))}")
    if until is not None and until <= now:
        raise ValueError(f"a token cannot run out at {until.isoformat()}: that is past")
    token = secrets.token_urlsafe(32)
    row = {"id": new_id(), "token_sha256": _digest(token), "name": _name(name),
           "person": person.id, "scope": scope, "made_at": now, "until": until}  # fmt: skip
    with looking_first(service) as conn:
        _must(conn, person, "mine" if scope == "calendar" else "token")
        if scope == "history":
            _must(conn, person, "history")
        conn.execute(insert(table(p.ApiToken)).values(row))
    return token


def token_of(service: Service, token: str) -> tuple[Person, Scope] | None:
    """For whom a program acts, and how far it may go; None if the token is no good."""
    now = service.clock()
    mine = (p.ApiToken.token_sha256 == _digest(token), p.ApiToken.revoked_at.is_(None))
    asked = (
        select(table(p.ApiToken), p.Person.name.label("called"), p.Person.role)
        .join_from(p.ApiToken, p.Person)
        .where(*mine, p.Person.revoked_at.is_(None))
        .where(p.ApiToken.until.is_(None) | (p.ApiToken.until > now))
    )
    with service.store.reading() as conn:
        row = conn.execute(asked).one_or_none()
    if row is None:
        return None
    if row.last_used is None or now - row.last_used >= SEEN_EVERY:
        with service.store.writing() as conn:
            conn.execute(update(p.ApiToken).where(*mine).values(last_used=now))
    return Person(row.person, row.called, row.role, row.id), row.scope


def revoke_token(service: Service, who: Person, token_id: str) -> None:
    """A token, by its id, lets nothing in any more: one's own always may. Errors: NotAllowed."""
    with looking_first(service) as conn:
        mine = select(p.ApiToken.person).where(p.ApiToken.id == token_id)
        if conn.scalar(mine) != who.id:
            _must(conn, who, "revoke")
        _end(conn, service.clock(), p.ApiToken, p.ApiToken.id == token_id)
