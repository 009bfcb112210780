"""The tables. The journal is the only source of truth; every other row here follows from it.

Rows of cards, rolls, copies, drives and mishaps are a projection: `audit` folds the journal anew
and proves them equal. A fact's free text and the names of people stand in `words`, committed to
by a salted digest, so that they can be erased while the chain stays whole.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, ForeignKey, Index, LargeBinary, MetaData, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from tracker.store.types import Instant, ordered_text

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """What all tables share: the names of their constraints, and how types are written."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {  # noqa: RUF012  (SQLAlchemy reads it from the class)
        datetime: Instant(),
        bytes: LargeBinary(),
        str: ordered_text(),
    }


class Production(Base):
    """The production of this service; there is one.

    origin: the id of this service in the journal. last_logged: the time given last, strictly
    increasing. context: counts the facts about drives, rules, proofs and cameras, so that a
    process knows whether what it remembers of them is stale. tape_rule: what the crew's coloured
    tape means, in its own words.
    """

    __tablename__ = "production"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[str]
    origin: Mapped[str]
    time_zone: Mapped[str]
    day_starts: Mapped[str]
    created_at: Mapped[datetime]
    last_logged: Mapped[datetime]
    context: Mapped[int] = mapped_column(BigInteger)
    fold_version: Mapped[int]
    tape_rule: Mapped[str | None] = mapped_column(Text)


class SetupLink(Base):
    """A link that sets the service up, once. Only the digest of its token is kept."""

    __tablename__ = "setup_link"

    token_sha256: Mapped[str] = mapped_column(primary_key=True)
    made_at: Mapped[datetime]
    until: Mapped[datetime]
    used_at: Mapped[datetime | None]


class Subject(Base):
    """What facts are about: a card (by the id of its registration), a drive, a unit, or all.

    It is the row that is locked while facts are added.
    """

    __tablename__ = "subject"

    id: Mapped[str] = mapped_column(primary_key=True)
    kind: Mapped[str]


class Chain(Base):
    """The head and the length of one origin's chain of a subject: a missing tail shows."""

    __tablename__ = "chain"

    subject: Mapped[str] = mapped_column(ForeignKey("subject.id"), primary_key=True)
    origin: Mapped[str] = mapped_column(primary_key=True)
    head: Mapped[str]
    count: Mapped[int] = mapped_column(BigInteger)


class Entry(Base):
    """One fact, for ever. Only ever inserted: triggers refuse the rest.

    body: the canonical bytes that are hashed (with seq and prev, so that a fact cannot be moved).
    said: SHA-256 of what the sender said, by which the same fact said again is known; salted, with
    "s:" before it, where there are words that can be erased.
    """

    __tablename__ = "journal"

    subject: Mapped[str] = mapped_column(ForeignKey("subject.id"), primary_key=True)
    origin: Mapped[str] = mapped_column(primary_key=True)
    seq: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    fact_id: Mapped[str] = mapped_column(unique=True)
    event: Mapped[str]
    occurred_at: Mapped[datetime]
    logged_at: Mapped[datetime]
    said: Mapped[str]
    body: Mapped[bytes]
    hash: Mapped[str]
    prev: Mapped[str]

    __table_args__ = (Index(None, "logged_at"),)


class Words(Base):
    """Free text and names of people of one fact, as an object by field.

    Both are None once erased: with the salt left, a name could be guessed from its digest.
    fields: where they stood, blanks between, once erased; and who erased them, when and why.
    """

    __tablename__ = "words"

    fact_id: Mapped[str] = mapped_column(primary_key=True)
    salt: Mapped[str | None]
    said: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    fields: Mapped[str | None] = mapped_column(Text)
    erased_at: Mapped[datetime | None]
    erased_by: Mapped[str | None]
    erased_why: Mapped[str | None] = mapped_column(Text)


class Card(Base):
    """A card as it stands.

    state: what `step` goes on from, but for rolls and mishaps, which have rows of their own.
    next, who, rank, may_format: what it needs, as the data manager's page shows it.
    """

    __tablename__ = "card"

    id: Mapped[str] = mapped_column(ForeignKey("subject.id"), primary_key=True)
    label: Mapped[str] = mapped_column(index=True)
    status: Mapped[str] = mapped_column(index=True)
    camera: Mapped[str | None]
    holds: Mapped[str] = mapped_column(Text)
    uncovered: Mapped[str] = mapped_column(Text)
    next: Mapped[str] = mapped_column(Text)
    who: Mapped[str]
    rank: Mapped[int]
    may_format: Mapped[bool | None]
    since: Mapped[datetime | None]
    media: Mapped[str | None]
    capacity_bytes: Mapped[int | None] = mapped_column(BigInteger)
    serial: Mapped[str | None]
    case: Mapped[str | None]
    owner: Mapped[str | None]
    visiting: Mapped[bool]
    place: Mapped[str | None]
    last: Mapped[str] = mapped_column()
    facts: Mapped[int] = mapped_column(BigInteger)
    state: Mapped[bytes]
    fold_version: Mapped[int]


class Label(Base):
    """Which card had a label from when to when; `until` is None while it has it."""

    __tablename__ = "label"

    label: Mapped[str] = mapped_column(primary_key=True)
    card: Mapped[str] = mapped_column(ForeignKey("card.id"), primary_key=True)
    since: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    until: Mapped[int | None] = mapped_column(BigInteger)


class Roll(Base):
    """A roll as it stands, with what the SQL face of coverage asks.

    position: the order in which the card's rolls were opened. names: all it answers to, each
    between line breaks. held: on the card now. closed: out of the camera. wiped: the moment when
    it went. main: for a mirror, the main roll of its name. needs_*: the rule that it is judged by
    for ever, once it was wiped. parted: the rest of a roll that was formatted while resumed.
    """

    __tablename__ = "roll"

    id: Mapped[str] = mapped_column(primary_key=True)
    card: Mapped[str] = mapped_column(ForeignKey("card.id"), index=True)
    position: Mapped[int]
    name: Mapped[str] = mapped_column(index=True)
    names: Mapped[str] = mapped_column(Text)
    guessed: Mapped[bool]
    camera: Mapped[str | None]
    loaded_as: Mapped[str]
    opened_at: Mapped[datetime | None]
    closed_at: Mapped[datetime | None]
    held: Mapped[bool]
    closed: Mapped[bool]
    wiped: Mapped[str | None]
    wiped_by: Mapped[str | None]
    covered_when_wiped: Mapped[bool]
    loss_settled: Mapped[bool]
    parted: Mapped[bool]
    mirror_wiped_early: Mapped[bool]
    owes: Mapped[bool]
    empty: Mapped[bool]
    verdict: Mapped[str | None]
    size: Mapped[int | None] = mapped_column("bytes", BigInteger)
    clips: Mapped[int | None] = mapped_column(BigInteger)
    main: Mapped[str | None]
    needs_copies: Mapped[int | None]
    needs_rank: Mapped[int | None]
    needs_kinds: Mapped[int | None]
    needs_off_site: Mapped[int | None]
    needs_receipt: Mapped[bool | None]
    covered: Mapped[bool]
    state: Mapped[bytes]

    __table_args__ = (
        Index(None, "covered", "closed", "owes"),
        Index(None, "loaded_as", "card"),
        Index(None, "camera", "opened_at"),
    )


class Copy(Base):
    """A finished copy of what a roll holds now, on a drive.

    rank: the check level at which it is believed, 0 claimed to 3 reread. sound: neither short nor
    different, nor made from one that is. finished: the moment of its finish. awaits: the SHA-256 of
    proofs that it names and that are not kept here yet, each on a line.
    """

    __tablename__ = "copy"

    roll: Mapped[str] = mapped_column(ForeignKey("roll.id"), primary_key=True)
    drive: Mapped[str] = mapped_column(primary_key=True)
    finished: Mapped[str]
    finished_at: Mapped[datetime]
    rank: Mapped[int]
    sound: Mapped[bool]
    size: Mapped[int | None] = mapped_column("bytes", BigInteger)
    clips: Mapped[int | None] = mapped_column(BigInteger)
    made_from: Mapped[str | None]
    awaits: Mapped[str | None] = mapped_column(Text)

    __table_args__ = (Index(None, "drive"),)


class Use(Base):
    """Which cards have had anything to do with which drive."""

    __tablename__ = "use"

    drive: Mapped[str] = mapped_column(primary_key=True)
    card: Mapped[str] = mapped_column(ForeignKey("card.id"), primary_key=True)


class TodaysDrive(Base):
    """A drive that takes today's copies, as it was set in the morning."""

    __tablename__ = "todays_drive"

    drive: Mapped[str] = mapped_column(primary_key=True)
    set_at: Mapped[datetime]


class Reel(Base):
    """The roll name given last in a camera, from which the next one is guessed."""

    __tablename__ = "reel"

    camera: Mapped[str] = mapped_column(primary_key=True)
    last: Mapped[str]


class Camera(Base):
    """A camera as it was last described. formats_to and takes are None where nobody said."""

    __tablename__ = "camera"

    letters: Mapped[str] = mapped_column(primary_key=True)
    unit: Mapped[str]
    slots: Mapped[int]
    takes: Mapped[str | None]
    needs_write_bytes_per_s: Mapped[int | None] = mapped_column(BigInteger)
    formats_to: Mapped[str | None]
    recording: Mapped[str | None]
    kind: Mapped[str | None]


class Drive(Base):
    """A drive as it stands. emptied: the last moment at which everything on it went."""

    __tablename__ = "drive"

    label: Mapped[str] = mapped_column(primary_key=True)
    kind: Mapped[str]
    capacity_bytes: Mapped[int] = mapped_column(BigInteger)
    enclosure: Mapped[str]
    place: Mapped[str]
    holder: Mapped[str | None]
    seal: Mapped[str | None]
    emptied: Mapped[str | None]
    failed: Mapped[bool]
    lost: Mapped[bool]
    returned: Mapped[bool]
    usable: Mapped[bool]


class Mishap(Base):
    """A mishap as it was made; settled_by: the fact by which a person settled it."""

    __tablename__ = "mishap"

    fact: Mapped[str] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(primary_key=True)
    roll: Mapped[str] = mapped_column(primary_key=True)
    drive: Mapped[str] = mapped_column(primary_key=True)
    card: Mapped[str] = mapped_column(ForeignKey("card.id"), index=True)
    severity: Mapped[str]
    settled_by: Mapped[str | None]

    __table_args__ = (Index(None, "settled_by", "severity"),)
