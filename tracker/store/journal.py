"""The journal: facts are added, read, and verified; never changed.

Each origin has a chain for each subject: a fact's body holds the hash before it and its number,
and its own hash is the SHA-256 of that body. Free text and people's names stand apart in `words`;
the body holds their salted digest only.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any, NamedTuple, cast

import msgspec
from sqlalchemy import ColumnElement, Connection, Select, Table, and_, bindparam, select

from tracker.domain.facts import CardFact, DriveFact, Fact, UnitFact
from tracker.store.bodies import Ready, commitment, fact_from, salted, spelled
from tracker.store.bulk import put, put_values
from tracker.store.quick import Among, Quick
from tracker.store.tables import Chain, Entry, Subject, Words
from tracker.store.types import to_microseconds

PRODUCTION = "production"
NOTHING_BEFORE = "0" * 64

LINK = ("subject", "seq", "prev", "hash", "words", "salt")
"""Where a fact stands in its chain; the last two where it has words."""

_JOURNAL = cast("Table", Entry.__table__)
_WORDS = cast("Table", Words.__table__)
_CHAIN = cast("Table", Chain.__table__)
_SUBJECT = cast("Table", Subject.__table__)
_LOCKED = Quick(
    select(Subject.id).where(Among(Subject.id, "ids")).order_by(Subject.id).with_for_update()
)
_CHAINS = Quick(
    select(Chain.subject, Chain.origin, Chain.head, Chain.count).where(Among(Chain.subject, "ids"))
)
_SAID = Quick(
    select(Entry.fact_id, Entry.said, Words.salt, Words.fact_id.is_not(None).label("worded"))
    .outerjoin(Words, Words.fact_id == Entry.fact_id)
    .where(Among(Entry.fact_id, "ids"))
)
_MOVED = Quick(
    _CHAIN.update()
    .where(_CHAIN.c.subject == bindparam("of"), _CHAIN.c.origin == bindparam("by"))
    .values(head=bindparam("new_head"), count=bindparam("new_count"))
)
_ENTRY = (
    "subject", "origin", "seq", "fact_id", "event", "occurred_at", "logged_at", "said", "body",
    "hash", "prev",
)  # fmt: skip
_decode = msgspec.json.Decoder().decode
_Key = tuple[str, str]
_Link = tuple[str, int]


class New(NamedTuple):
    """A fact that is to be added, and about which subject."""

    fact: Fact
    subject: str
    ready: Ready


def subject_kind(fact: Fact) -> str:
    """What a fact is about: card, drive, unit or production."""
    for kind, word in ((CardFact, "card"), (DriveFact, "drive"), (UnitFact, "unit")):
        if isinstance(fact, kind):
            return word
    return PRODUCTION


def subject_of(fact: Fact, card_id: str | None = None) -> str:
    """The id of the subject of a fact; that of a card must be known."""
    if isinstance(fact, CardFact):
        assert card_id is not None
        return card_id
    if isinstance(fact, DriveFact):
        return f"drive/{fact.drive}"
    return f"unit/{fact.unit}" if isinstance(fact, UnitFact) else PRODUCTION


def add(conn: Connection, new: Sequence[New]) -> None:
    """Add facts, in the order given, each at the end of its chain.

    The rows of their subjects are locked in the order of their ids, so that no two writers wait
    for each other.
    """
    about = {one.subject: one.fact for one in new}
    kinds = {subject: subject_kind(fact) for subject, fact in about.items()}
    if conn.dialect.name == "postgresql":
        lock_subjects(conn, kinds)
    chains = _chains(conn, kinds)
    known = frozenset(chains)
    if conn.dialect.name == "sqlite":
        # Whoever writes is alone there; what has a chain has a row.
        begun = {subject for subject, _ in known}
        lock_subjects(conn, {i: kind for i, kind in kinds.items() if i not in begun})
    words: list[dict[str, Any]] = []
    before = dict(chains)
    entries = [_linked(one, chains, words) for one in new]
    put_values(conn, _JOURNAL, _ENTRY, entries)
    put(conn, _WORDS, words)
    moved = {key: link for key, link in chains.items() if before.get(key) != link}
    _keep_chains(conn, moved, known)


def _linked(one: New, chains: dict[_Key, _Link], words: list[dict[str, Any]]) -> tuple[Any, ...]:
    """The row of a fact at the end of its chain, which moves on. words: its words are added."""
    fact, subject, (_, said, body, apart) = one
    key = (subject, fact.origin)
    head, count = chains.get(key, (NOTHING_BEFORE, 0))
    body["subject"], body["seq"], body["prev"] = subject, count + 1, head
    if isinstance(fact, CardFact):
        body["card_id"] = subject
    if apart:
        salt = secrets.token_hex(16)
        body["words"] = commitment(salt, apart)
        said = salted(salt, said)
        words.append({"fact_id": fact.id, "salt": salt, "said": apart})
    raw = spelled(body)
    hashed = hashlib.sha256(raw).hexdigest()
    chains[key] = (hashed, count + 1)
    occurred, logged = to_microseconds(fact.occurred_at), to_microseconds(fact.logged_at)
    return (
        subject, fact.origin, count + 1, fact.id, fact.event, occurred, logged, said, raw, hashed,
        head,
    )  # fmt: skip


def lock_subjects(conn: Connection, kinds: dict[str, str]) -> None:
    """Make the subjects' rows where they are missing, and lock them."""
    if not kinds:
        return
    there = {row.id for row in _LOCKED.all(conn, ids=sorted(kinds))}
    put(conn, _SUBJECT, [{"id": i, "kind": kinds[i]} for i in sorted(kinds) if i not in there])


def _chains(conn: Connection, subjects: Iterable[str]) -> dict[_Key, _Link]:
    found = _CHAINS.all(conn, ids=sorted(subjects))
    return {(row.subject, row.origin): (row.head, row.count) for row in found}


def _keep_chains(conn: Connection, moved: dict[_Key, _Link], known: frozenset[_Key]) -> None:
    new = []
    for (subject, origin), (head, count) in moved.items():
        if (subject, origin) in known:
            _MOVED.run(conn, of=subject, by=origin, new_head=head, new_count=count)
        else:
            new.append({"subject": subject, "origin": origin, "head": head, "count": count})
    put(conn, _CHAIN, new)


def _in_pieces(items: list[str], size: int = 500) -> Iterator[list[str]]:
    for start in range(0, len(items), size):
        yield items[start : start + size]


# Reading


class Before(NamedTuple):
    """What is known of a fact that was said before. salt: None where it has no words any more."""

    said: str
    salt: str | None
    worded: bool

    def says(self, digest: str) -> bool:
        """Whether the same is said again: what was erased nobody can tell, and is taken to be."""
        if not self.worded:
            return self.said == digest
        return self.salt is None or self.said == salted(self.salt, digest)


def said_before(conn: Connection, ids: Sequence[str]) -> dict[str, Before]:
    """Which of some fact ids are in the journal, each with what is known of what was said."""
    found = _SAID.all(conn, ids=ids)
    return {row.fact_id: Before(row.said, row.salt, row.worded) for row in found}


def facts_of(
    conn: Connection, subjects: Iterable[str], *, before: datetime | None = None
) -> dict[str, list[Fact]]:
    """All facts of some subjects, each in the order of logging; or those logged before a time."""
    found: dict[str, list[Fact]] = {}
    for some in _in_pieces(list(subjects)):
        which: ColumnElement[bool] = Entry.subject.in_(some)
        if before is not None:
            which = and_(which, Entry.logged_at < before)
        for subject, fact in _read(conn, which):
            found.setdefault(subject, []).append(fact)
    return found


def facts_of_kind(conn: Connection, *kinds: str) -> list[Fact]:
    """All facts about drives, units or the production, in the order of logging."""
    of_kind = select(Subject.id).where(Subject.kind.in_(kinds))
    return [fact for _, fact in _read(conn, Entry.subject.in_(of_kind))]


def facts_with(conn: Connection, *events: str) -> list[tuple[str, Fact]]:
    """All facts of some events, each with its subject, in the order of logging."""
    return list(_read(conn, Entry.event.in_(events)))


def facts_by_id(conn: Connection, ids: Iterable[str]) -> list[tuple[str, Fact]]:
    """Those of some ids that are in the journal, each with its subject, in the order of logging."""
    return list(_read(conn, Entry.fact_id.in_(list(ids))))


def facts_matching(
    conn: Connection, which: ColumnElement[bool], **values: object
) -> list[tuple[str, Fact]]:
    """Those of which something is true, each with its subject, in the order of logging.

    values: what it names.
    """
    return [(row.subject, _fact(row)) for row in conn.execute(_told(which), values)]


def every_fact(conn: Connection) -> Iterator[tuple[str, Fact]]:
    """Everything, with its subject, in the order of logging."""
    return _read(conn, Entry.seq > 0)


def every_link(conn: Connection) -> Iterator[tuple[str, Fact, dict[str, Any]]]:
    """As `every_fact`, each with its link: what `LINK` names, by name."""
    for row in conn.execute(_told(Entry.seq > 0)):
        told: dict[str, Any] = _decode(row.body)
        found = {**told, "hash": row.hash, "salt": row.salt}
        link = {word: found[word] for word in LINK if found.get(word) is not None}
        yield row.subject, _fact(row), link


def _read(conn: Connection, which: Any) -> Iterator[tuple[str, Fact]]:
    for row in conn.execute(_told(which)):
        yield row.subject, _fact(row)


def _fact(row: Any) -> Fact:
    erased = row.worded is not None and row.words is None
    fields = None if row.fields is None else row.fields.split()
    return fact_from(row.body, row.words, erased=erased, fields=fields)


def _told(which: Any) -> Select[Any]:
    worded, words = Words.fact_id.label("worded"), Words.said.label("words")
    return (
        select(Entry.subject, Entry.body, words, worded, Words.fields, Words.salt, Entry.hash)
        .outerjoin(Words, Words.fact_id == Entry.fact_id)
        .where(which)
        .order_by(Entry.logged_at, Entry.origin, Entry.fact_id)
        .execution_options(yield_per=5000)
    )
