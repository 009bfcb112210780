"""Who belongs here, who is invited, and which tokens let programs in, as the pages show them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime

from tracker.services.people import LinkSpent, Person
from tracker.services.service import Service
from tracker.store import people_lists


@dataclass(frozen=True, slots=True)
class Listed:
    """A person who belongs here. last_seen: None if never. sessions: how many are open."""

    id: str
    name: str
    role: str
    made_at: datetime
    last_seen: datetime | None
    sessions: int


@dataclass(frozen=True, slots=True)
class Invited:
    """Somebody who may still join. made_by: the name of who invited them."""

    name: str
    role: str
    made_at: datetime
    until: datetime
    made_by: str


@dataclass(frozen=True, slots=True)
class Token:
    """What lets a program in. person: for whom it acts. until, last_used: None if never."""

    id: str
    name: str
    scope: str
    made_at: datetime
    until: datetime | None
    last_used: datetime | None
    person: str


def everybody(service: Service) -> list[Listed]:
    """Everybody who belongs here, by name."""
    with service.store.reading() as conn:
        return [Listed(**row._mapping) for row in people_lists.people(conn, service.clock())]


def invited(service: Service) -> list[Invited]:
    """Everybody who may still join, invited last first."""
    with service.store.reading() as conn:
        return [Invited(**row._mapping) for row in people_lists.invitations(conn, service.clock())]


def invited_by(service: Service, token: str) -> Invited:
    """Who is meant by a link. Errors: LinkSpent."""
    digest = hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
    with service.store.reading() as conn:
        row = people_lists.invitation(conn, digest, service.clock())
    if row is None:
        raise LinkSpent
    return Invited(**row._mapping)


def tokens(service: Service, of: Person | None = None) -> list[Token]:
    """Tokens that still let a program in, by name. of: only those of one person."""
    with service.store.reading() as conn:
        rows = people_lists.tokens(conn, service.clock(), None if of is None else of.id)
        return [Token(**row._mapping) for row in rows]


def has_passphrase(service: Service, person: Person) -> bool:
    """Whether a person can sign in by a passphrase: those of the demo cannot."""
    with service.store.reading() as conn:
        return people_lists.passphrase_kept(conn, person.id)
