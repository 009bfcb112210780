"""What the pages of the people read: who belongs here, who is invited, and which tokens there are.

Digests of secrets stay where they are.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, func, select
from sqlalchemy.orm import aliased

from tracker.store import people_tables as p


def people(conn: Connection, now: datetime) -> list[Row[Any]]:
    """Everybody who belongs here, by name, with their open sessions and when they were seen."""
    seen = (
        select(p.Session.person, func.max(p.Session.last_seen).label("last_seen"))
        .group_by(p.Session.person)
        .subquery()
    )
    open_now = (
        select(p.Session.person, func.count().label("sessions"))
        .where(p.Session.revoked_at.is_(None), p.Session.until > now)
        .group_by(p.Session.person)
        .subquery()
    )
    asked = (
        select(
            p.Person.id, p.Person.name, p.Person.role, p.Person.made_at, seen.c.last_seen,
            func.coalesce(open_now.c.sessions, 0).label("sessions"),
        )
        .outerjoin(seen, seen.c.person == p.Person.id)
        .outerjoin(open_now, open_now.c.person == p.Person.id)
        .where(p.Person.revoked_at.is_(None))
        .order_by(p.Person.name, p.Person.id)
    )  # fmt: skip
    return list(conn.execute(asked))


def invitations(conn: Connection, now: datetime) -> list[Row[Any]]:
    """Invitations that still let somebody in, the latest first."""
    still = _invitations().where(p.Invitation.until > now)
    return list(conn.execute(still.order_by(p.Invitation.made_at.desc(), p.Invitation.name)))


def invitation(conn: Connection, token_sha256: str, now: datetime) -> Row[Any] | None:
    """The invitation of a link that still lets somebody in; None if there is none."""
    mine = _invitations().where(p.Invitation.until > now)
    return conn.execute(mine.where(p.Invitation.token_sha256 == token_sha256)).one_or_none()


def _invitations() -> Select[*tuple[Any, ...]]:
    return (
        select(
            p.Invitation.name, p.Invitation.role, p.Invitation.made_at, p.Invitation.until,
            p.Person.name.label("made_by"),
        )
        .join(p.Person, p.Person.id == p.Invitation.made_by)
        .where(p.Invitation.used_at.is_(None), p.Invitation.revoked_at.is_(None))
    )  # fmt: skip


def tokens(conn: Connection, now: datetime, person: str | None = None) -> list[Row[Any]]:
    """Tokens that still let a program in, by name. person: by id, only those of one person."""
    of = aliased(p.Person)
    asked = (
        select(
            p.ApiToken.id, p.ApiToken.name, p.ApiToken.scope, p.ApiToken.made_at,
            p.ApiToken.until, p.ApiToken.last_used, of.name.label("person"),
        )
        .join(of, of.id == p.ApiToken.person)
        .where(
            p.ApiToken.revoked_at.is_(None),
            of.revoked_at.is_(None),
            p.ApiToken.until.is_(None) | (p.ApiToken.until > now),
        )
        .order_by(p.ApiToken.name, p.ApiToken.id)
    )  # fmt: skip
    if person is not None:
        asked = asked.where(p.ApiToken.person == person)
    return list(conn.execute(asked))


def passphrase_kept(conn: Connection, person: str) -> bool:
    """Whether a person, by id, has a passphrase to sign in with."""
    kept = select(p.Person.passphrase_hash.is_not(None)).where(p.Person.id == person)
    return bool(conn.scalar(kept))


def names(conn: Connection) -> dict[str, str]:
    """The name of everybody who is or was here, by id."""
    return {row.id: row.name for row in conn.execute(select(p.Person.id, p.Person.name))}
