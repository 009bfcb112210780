"""Verifying the journal: every chain, from its first fact to its head, read once.

What was changed, left out, added or moved shows as a finding, one for each chain, at its first bad
fact. It proves nothing against one who writes the whole chain anew: that is what checkpoints kept
elsewhere are for. `said` stands outside the chain, and is not verified.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from itertools import groupby
from operator import itemgetter
from typing import Annotated, Any

import msgspec
from sqlalchemy import Connection, Text, cast, select, type_coerce
from sqlalchemy.exc import DBAPIError
from sqlalchemy.types import NullType

from tracker.store.bodies import commitment
from tracker.store.journal import NOTHING_BEFORE, PRODUCTION
from tracker.store.tables import Chain, Entry, Subject, Words
from tracker.wire.canonical import canonical
from tracker.wire.values import SAFE_INTEGER

_Key = tuple[Any, Any]
_decode = msgspec.json.Decoder().decode
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
# What is plain and in ASCII is canonical when its names are sorted; the rest is asked slowly.
_Whole = Annotated[int, msgspec.Meta(ge=-SAFE_INTEGER, le=SAFE_INTEGER)]
_decode_plain = msgspec.json.Decoder(dict[str, str | bool | _Whole | None]).decode
_sorted = msgspec.json.Encoder(order="sorted").encode
_KINDS = ("drive", "unit")


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong with a chain, in plain words, and at which fact it shows first.

    seq: the fact's number in its chain; None where the whole chain, or no chain, is meant.
    fact: its id; None where there is no such fact.
    """

    subject: str
    origin: str
    seq: int | None
    fact: str | None
    what: str

    def __str__(self) -> str:
        at = "" if self.seq is None else f", fact {self.seq}"
        named = "" if self.fact is None else f" ({self.fact})"
        return f"{self.subject} of {self.origin}{at}{named}: {self.what}"


def verify_chains(conn: Connection) -> Iterator[Finding]:
    """Read the whole journal once; gives what is wrong, at most one finding for a chain.

    Never raises for what the rows hold.
    """
    told: set[Finding] = set()
    for any_text in (False, True):
        try:
            with _reading_text(conn, any_text=any_text):
                for found in _verify_all(conn):
                    if found not in told:
                        told.add(found)
                        yield found
            return
        except DBAPIError as error:
            # Perhaps a text that is none: then once more, slowly.
            what = f"it cannot be read to its end: {' '.join(str(error.orig).split())}"
    yield Finding("the journal", "this database", None, None, what)


def _verify_all(conn: Connection) -> Iterator[Finding]:
    asked = select(Chain.subject, Chain.origin, Chain.head, _raw(Chain.count))
    chains: dict[_Key, _Key] = {(row[0], row[1]): (row[2], row[3]) for row in _read(conn, asked)}
    of_subjects = select(Subject.id, Subject.kind)
    kinds: dict[Any, Any] = {row[0]: row[1] for row in _read(conn, of_subjects)}
    for key, rows in groupby(_read(conn, _JOURNAL), key=itemgetter(0, 1)):
        found = _verify(key, rows, chains.pop(key, None), kinds.get(key[0]))
        if found is not None:
            yield found
    for key, (_, count) in sorted(chains.items(), key=repr):
        yield _finding(key, 1, None, f"all of its facts are missing: {_shown(count)} were kept")
    yield from _stray_words(conn)


def _raw(column: Any) -> Any:
    """A column as the driver gives it: what is kept may not be what its type promises."""
    return type_coerce(column, NullType())


_JOURNAL = (
    select(
        Entry.subject, Entry.origin, _raw(Entry.seq), Entry.fact_id, Entry.event,
        _raw(Entry.occurred_at), _raw(Entry.logged_at), _raw(Entry.body), Entry.hash, Entry.prev,
        Words.fact_id, Words.salt, cast(Words.said, Text),
    )
    .outerjoin(Words, Words.fact_id == Entry.fact_id)
    .order_by(Entry.subject, Entry.origin, Entry.seq)
)  # fmt: skip


def _read(conn: Connection, asked: Any) -> Iterator[Any]:
    return iter(conn.execute(asked, execution_options={"yield_per": 5000}))


@contextmanager
def _reading_text(conn: Connection, *, any_text: bool) -> Iterator[None]:
    """any_text: text that is none, too. SQLite keeps whatever bytes it was given as text."""
    driver: Any = conn.connection.driver_connection
    if conn.dialect.name != "sqlite" or not any_text:
        yield
        return
    usual = driver.text_factory
    driver.text_factory = partial(str, encoding="utf-8", errors="replace")
    try:
        yield
    finally:
        driver.text_factory = usual


def _shown(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 60 else text[:60] + "…"


# One chain


def _verify(key: _Key, rows: Iterable[Any], kept: _Key | None, kind: Any) -> Finding | None:
    """The first fact at fault in a chain, or what its end should be and is not."""
    seq, head, fact = 0, NOTHING_BEFORE, None
    for row in rows:
        seq += 1
        wrong = _fault(row, seq, head)
        if wrong is not None:
            missing = type(row[2]) is int and row[2] > seq
            return _finding(key, seq, None if missing else row[3], wrong)
        head, fact = row[8], row[3]
    if kind != kind_of(key[0]):
        return _finding(key, None, None, f"kept as a {_shown(kind)}, it is a {kind_of(key[0])}")
    if kept is None:
        return _finding(key, None, None, f"its head and count are missing; {seq} facts are there")
    if kept[1] != seq:
        return _miscounted(key, kept[1], seq, fact)
    if kept[0] != head:
        what = "the head kept for this chain is not its hash: the fact, or the head, was changed"
        return _finding(key, seq, fact, what)
    return None


def kind_of(subject: Any) -> str:
    """What a subject is, by its id."""
    if subject == PRODUCTION:
        return PRODUCTION
    first = str(subject).split("/")[0]
    return first if first in _KINDS else "card"


def _miscounted(key: _Key, count: Any, seq: int, fact: Any) -> Finding:
    if type(count) is int and count > seq:
        what = f"it and what follows is missing: {count} facts were kept, {seq} are there"
        return _finding(key, seq + 1, None, what)
    return _finding(key, seq, fact, f"{_shown(count)} facts were kept, {seq} are there")


def _finding(key: _Key, seq: int | None, fact: Any, what: str) -> Finding:
    named = None if fact is None else str(fact)
    return Finding(str(key[0]), str(key[1]), seq, named, what)


# One fact


def _fault(row: Any, expected: int, head: str) -> str | None:
    """What is wrong with a fact that should be the next of its chain, or None."""
    subject, origin, seq, fact_id, event, occurred, logged, body, hashed, prev, *words = row
    if type(seq) is not int or seq != expected:
        return _misplaced(seq, expected)
    if type(body) is not bytes:
        return "its body is not bytes"
    if hashlib.sha256(body).hexdigest() != hashed:
        return "its body does not agree with its hash: one of them was changed"
    told = _told(body)
    if told is None:
        return "its body is not a JSON object in its canonical form"
    try:
        if (
            told["subject"] != subject
            or told["origin"] != origin
            or told["seq"] != seq
            or told["id"] != fact_id
            or told["event"] != event
            or told["prev"] != prev
            or _micros(told["occurred_at"]) != occurred
            or _micros(told["logged_at"]) != logged
        ):
            return _other_column(told, row)
        if told.get("card_id", subject) != subject:
            return "its card is not the subject that it is kept under"
    except (KeyError, TypeError, ValueError, OverflowError):
        return "its body lacks what every fact has, or has it in another form"
    if prev != head:
        return "it does not follow the fact before it: that one was changed, taken out or put in"
    if words[0] is None and "words" not in told:
        return None
    return _words_fault(told.get("words"), *words)


def _misplaced(seq: Any, expected: int) -> str:
    if type(seq) is int and seq > expected:
        return f"it is missing: the next fact that is there has the number {seq}"
    return f"its number is {_shown(seq)}, where {expected} is expected"


def _told(body: bytes) -> dict[str, Any] | None:
    """A body, if it is a JSON object in the one spelling that is hashed."""
    try:
        if body.isascii():
            told: dict[str, Any] = _decode_plain(body)
            if _sorted(told) == body:
                return told
    except (msgspec.MsgspecError, ValueError, RecursionError):
        pass
    return _told_slowly(body)


def _told_slowly(body: bytes) -> dict[str, Any] | None:
    try:
        told = _decode(body)
        return told if type(told) is dict and canonical(told) == body else None
    except (msgspec.MsgspecError, ValueError, TypeError, RecursionError):
        return None


def _micros(text: str) -> int:
    since = datetime.fromisoformat(text) - _EPOCH
    # As `to_microseconds`, and a quarter quicker.
    return (since.days * 86_400 + since.seconds) * 1_000_000 + since.microseconds


def _other_column(told: dict[str, Any], row: Any) -> str:
    """Which column says something else than the body."""
    names = ("subject", "origin", "seq", "id", "event", "occurred_at", "logged_at", "", "", "prev")
    for name, kept in zip(names, row, strict=False):
        if not name:
            continue
        said = told.get(name)
        there = _micros(said) if name.endswith("_at") and isinstance(said, str) else said
        if there != kept:
            return f"its column {name} says {_shown(kept)}, its body {_shown(said)}"
    return "its columns say something else than its body"


# Its words


def _words_fault(committed: Any, words: Any, salt: Any, said: Any) -> str | None:
    """What is wrong with the words of a fact, which may have been erased."""
    if words is None:
        return "its words are missing"
    if said is None:
        return None if committed is not None else "words were put to it that it never had"
    if committed is None:
        return "words were put to it that it never had"
    try:
        told = _decode(said)
        agree = commitment(salt, told) == committed
    except (msgspec.MsgspecError, ValueError, TypeError, AttributeError, RecursionError):
        agree = False
    return None if agree else "its words are not those that were said: they, or their salt, changed"


def _stray_words(conn: Connection) -> Iterator[Finding]:
    """Words of facts that are not there."""
    there = select(Entry.fact_id).where(Entry.fact_id == Words.fact_id).exists()
    asked = select(Words.fact_id).where(~there).order_by(Words.fact_id)
    for (fact_id,) in _read(conn, asked):
        yield Finding("words", "this database", None, str(fact_id), "words of no fact that is here")
