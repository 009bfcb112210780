"""The journal: facts are added, read, and verified; never changed.

Each origin has a chain for each subject: a fact's body holds the hash before it and its number,
and its own hash is the SHA-256 of that body. Free text and people's names stand apart in `words`;
the body holds their salted digest only.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

import msgspec
from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Connection,
    Select,
    Table,
    and_,
    bindparam,
    insert,
    select,
)

from tracker.domain.facts import CardFact, DriveFact, Fact, Received, UnitFact
from tracker.store.bulk import put
from tracker.store.tables import Chain, Entry, Subject, Words
from tracker.wire.canonical import canonical
from tracker.wire.codec import decode_envelope, encode

PRODUCTION = "production"
NOTHING_BEFORE = "0" * 64
ERASED = "(erased)"

WORDS = frozenset(
    {
        "text", "reason", "to", "holder", "authorised_by", "override_reason", "promise",
        "promise_by", "tapped_by",
    }
)  # fmt: skip
"""Fields that hold free text or the name of a person."""

LINK = ("subject", "seq", "prev", "hash", "words", "salt")
"""Where a fact stands in its chain; the last two where it has words."""

_JOURNAL = cast("Table", Entry.__table__)
_WORDS = cast("Table", Words.__table__)
_CHAIN = cast("Table", Chain.__table__)
# Built once: for one fact, building a statement costs more than running it.
_IDS: BindParameter[str] = bindparam("ids", expanding=True)
_LOCKED = select(Subject.id).where(Subject.id.in_(_IDS)).order_by(Subject.id).with_for_update()
_CHAINS = select(Chain.subject, Chain.origin, Chain.head, Chain.count).where(
    Chain.subject.in_(_IDS)
)
_SAID = select(Entry.fact_id, Entry.said).where(Entry.fact_id.in_(_IDS))
_MOVED = (
    _CHAIN.update()
    .where(_CHAIN.c.subject == bindparam("of"), _CHAIN.c.origin == bindparam("by"))
    .values(head=bindparam("new_head"), count=bindparam("new_count"))
)
_PLACES = frozenset({"reported_missing", "found"})
_decode = msgspec.json.Decoder().decode


@dataclass(frozen=True, slots=True)
class New:
    """A fact that is to be added: about which subject, and the digest of what was said."""

    fact: Fact
    subject: str
    said: str


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
    kinds = {one.subject: subject_kind(one.fact) for one in new}
    if conn.dialect.name == "postgresql":
        lock_subjects(conn, kinds)
    chains = _chains(conn, {(one.subject, one.fact.origin) for one in new})
    known = frozenset(chains)
    if conn.dialect.name == "sqlite":
        # Whoever writes is alone there; what has a chain has a row.
        begun = {subject for subject, _ in known}
        lock_subjects(conn, {i: kind for i, kind in kinds.items() if i not in begun})
    entries, words, touched = [], [], {}
    for one in new:
        key = (one.subject, one.fact.origin)
        head, count = chains.get(key, (NOTHING_BEFORE, 0))
        body, said = _apart(one.fact)
        body["subject"], body["seq"], body["prev"] = one.subject, count + 1, head
        if isinstance(one.fact, CardFact):
            body["card_id"] = one.subject
        if said:
            salt = secrets.token_hex(16)
            body["words"] = commitment(salt, said)
            words.append({"fact_id": one.fact.id, "salt": salt, "said": said})
        raw = canonical(body)
        hashed = hashlib.sha256(raw).hexdigest()
        chains[key] = touched[key] = (hashed, count + 1)
        entries.append(
            {
                "subject": one.subject,
                "origin": one.fact.origin,
                "seq": count + 1,
                "fact_id": one.fact.id,
                "event": one.fact.event,
                "occurred_at": one.fact.occurred_at,
                "logged_at": one.fact.logged_at,
                "said": one.said,
                "body": raw,
                "hash": hashed,
                "prev": head,
            }
        )
    put(conn, _JOURNAL, entries)
    put(conn, _WORDS, words)
    _keep_chains(conn, touched, known)


def lock_subjects(conn: Connection, kinds: dict[str, str]) -> None:
    """Make the subjects' rows where they are missing, and lock them."""
    for some in _in_pieces(sorted(kinds)):
        there = set(conn.scalars(_LOCKED, {"ids": some}))
        missing = [{"id": i, "kind": kinds[i]} for i in some if i not in there]
        if missing:
            conn.execute(insert(Subject), missing)


def commitment(salt: str, said: dict[str, Any]) -> str:
    """What the chain holds of erasable words: salted, so that they cannot be guessed back."""
    return hashlib.sha256(salt.encode() + canonical(said)).hexdigest()


def _apart(fact: Fact) -> tuple[dict[str, Any], dict[str, Any]]:
    """A fact's body without its erasable words, and those words."""
    body = encode(fact, envelope=True)
    said = {word: body.pop(word) for word in WORDS & body.keys() if _erasable(fact, word)}
    if isinstance(fact, Received):
        said["from"] = body.pop("from")
    if fact.event in _PLACES and "place" in body:
        said["place"] = body.pop("place")
    return body, said


def _erasable(fact: Fact, word: str) -> bool:
    """`reason` is a word of ours where a fact has a list of them."""
    return not (word == "reason" and fact.event in ("copy_failed", "retired"))


def _chains(conn: Connection, keys: set[tuple[str, str]]) -> dict[tuple[str, str], tuple[str, int]]:
    found: dict[tuple[str, str], tuple[str, int]] = {}
    for some in _in_pieces(sorted({subject for subject, _ in keys})):
        for subject, origin, head, count in conn.execute(_CHAINS, {"ids": some}):
            found[subject, origin] = (head, count)
    return found


def _keep_chains(
    conn: Connection,
    touched: dict[tuple[str, str], tuple[str, int]],
    known: frozenset[tuple[str, str]],
) -> None:
    rows = [
        {"of": key[0], "by": key[1], "new_head": head, "new_count": count}
        for key, (head, count) in touched.items()
    ]
    new = [
        {"subject": row["of"], "origin": row["by"], "head": row["new_head"],
         "count": row["new_count"]}
        for row in rows
        if (row["of"], row["by"]) not in known
    ]  # fmt: skip
    put(conn, _CHAIN, new)
    moved = [row for row in rows if (row["of"], row["by"]) in known]
    if moved:
        conn.execute(_MOVED, moved)


def _in_pieces(items: list[str], size: int = 500) -> Iterator[list[str]]:
    for start in range(0, len(items), size):
        yield items[start : start + size]


# Reading


def said_before(conn: Connection, ids: Iterable[str]) -> dict[str, str]:
    """Which of some fact ids are in the journal, each with the digest of what was said."""
    found = {}
    for some in _in_pieces(list(ids)):
        for fact_id, said in conn.execute(_SAID, {"ids": some}):
            found[fact_id] = said
    return found


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


def facts_of_events(conn: Connection, *events: str) -> list[Fact]:
    """All facts of some kinds, in the order of logging."""
    return [fact for _, fact in _read(conn, Entry.event.in_(events))]


def every_fact(conn: Connection) -> Iterator[tuple[str, Fact]]:
    """Everything, with its subject, in the order of logging."""
    return _read(conn, Entry.seq > 0)


def every_link(conn: Connection) -> Iterator[tuple[str, Fact, dict[str, Any]]]:
    """As `every_fact`, each with its link: what `LINK` names, by name."""
    for subject, body, said, has_words, salt, hashed in conn.execute(_told(Entry.seq > 0)):
        told: dict[str, Any] = _decode(body)
        found = {**told, "hash": hashed, "salt": salt}
        link = {word: found[word] for word in LINK if found.get(word) is not None}
        yield subject, fact_from(body, said, erased=has_words is not None and said is None), link


def _read(conn: Connection, which: Any) -> Iterator[tuple[str, Fact]]:
    for subject, body, said, has_words, *_ in conn.execute(_told(which)):
        yield subject, fact_from(body, said, erased=has_words is not None and said is None)


def _told(which: Any) -> Select[Any]:
    return (
        select(Entry.subject, Entry.body, Words.said, Words.fact_id, Words.salt, Entry.hash)
        .outerjoin(Words, Words.fact_id == Entry.fact_id)
        .where(which)
        .order_by(Entry.logged_at, Entry.origin, Entry.fact_id)
        .execution_options(yield_per=5000)
    )


def fact_from(body: bytes, said: dict[str, Any] | None, *, erased: bool) -> Fact:
    """A fact from its body and its words; erased words leave a mark where they must be."""
    told: dict[str, Any] = _decode(body)
    for word in ("subject", "seq", "prev", "words"):
        told.pop(word, None)
    if said is not None:
        told.update(said)
    elif erased:
        told.update(dict.fromkeys(_must_have(told), ERASED))
    return decode_envelope(told)


_MUST: dict[str, tuple[str, ...]] = {
    "handed_over": ("to",),
    "copy_lost": ("reason",),
    "written_off": ("authorised_by", "reason"),
    "received": ("from",),
    "clearing_withdrawn": ("reason",),
    "set_aside": ("reason",),
    "returned_to_service": ("reason",),
    "damage_noted": ("text",),
    "damage_settled": ("text",),
    "settled": ("reason",),
    "noted": ("text",),
    "voided": ("reason",),
}


def _must_have(told: dict[str, Any]) -> tuple[str, ...]:
    if told["event"] == "cleared" and "promise_until" in told:
        return ("override_reason", "authorised_by", "promise", "promise_by")
    return _MUST.get(told["event"], ())
