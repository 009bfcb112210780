"""The tables of the people of a production: who they are, and by what they come in.

Of every secret only a digest is kept: SHA-256 of a token, which nobody can guess, and Argon2id of
a passphrase, which somebody might.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, Text
from sqlalchemy.orm import Mapped, mapped_column

from tracker.store.tables import Base


class Person(Base):
    """A person. passphrase_hash: None for one who cannot sign in. revoked_at: when they left."""

    __tablename__ = "person"

    id: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    role: Mapped[str]
    passphrase_hash: Mapped[str | None]
    made_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]


class Invitation(Base):
    """A link by which one person joins, once. made_by: who invited them."""

    __tablename__ = "invitation"

    token_sha256: Mapped[str] = mapped_column(primary_key=True)
    role: Mapped[str]
    name: Mapped[str]
    made_by: Mapped[str] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime]
    until: Mapped[datetime]
    used_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]


class Session(Base):
    """A browser in which somebody is signed in. until: moves on while it is used."""

    __tablename__ = "session"

    token_sha256: Mapped[str] = mapped_column(primary_key=True)
    person: Mapped[str] = mapped_column(ForeignKey("person.id"), index=True)
    device: Mapped[str] = mapped_column(index=True)
    made_at: Mapped[datetime]
    last_seen: Mapped[datetime]
    until: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    agent: Mapped[str] = mapped_column(Text)


class ApiToken(Base):
    """A token for a program, which acts for a person. until: None if it does not run out."""

    __tablename__ = "api_token"

    id: Mapped[str] = mapped_column(primary_key=True)
    token_sha256: Mapped[str] = mapped_column(unique=True)
    name: Mapped[str]
    person: Mapped[str] = mapped_column(ForeignKey("person.id"), index=True)
    scope: Mapped[str]
    made_at: Mapped[datetime]
    until: Mapped[datetime | None]
    last_used: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]


class SignInTry(Base):
    """How often signing in went wrong in a row, for one name or from one address.

    who_sha256: a digest, since people also type their passphrase where the name goes.
    """

    __tablename__ = "sign_in_try"

    who_sha256: Mapped[str] = mapped_column(primary_key=True)
    failures: Mapped[int]
    last_at: Mapped[datetime] = mapped_column(index=True)
