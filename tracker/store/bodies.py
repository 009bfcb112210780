"""A fact as it is kept: the body that is hashed, and apart from it the words that can be erased.

The body holds a salted digest of the words. So does the column `said`, by which the same fact said
twice is known: with the words and their salt gone, neither tells what they were.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any, NamedTuple

import msgspec

from tracker.domain.facts import Fact
from tracker.wire.canonical import canonical
from tracker.wire.codec import decode_envelope, encode
from tracker.wire.fields import SHAPES

ERASED = "(erased)"

WORDS = frozenset(
    {
        "text", "reason", "to", "holder", "authorised_by", "override_reason", "promise",
        "promise_by", "tapped_by",
    }
)  # fmt: skip
"""Fields that hold free text or the name of a person."""

_PLACES = frozenset({"reported_missing", "found"})
_OF_THE_CHAIN = ("subject", "seq", "prev", "words")
_decode = msgspec.json.Decoder().decode
_sorted = msgspec.json.Encoder(order="sorted").encode
_PLAIN = frozenset({str, bool, int, type(None)})


class Ready(NamedTuple):
    """A fact as far as it can be made ready before its place in a chain is known.

    digest: of what was said. body: without its place. words: what can be erased.
    """

    fact: Fact
    digest: str
    body: dict[str, Any]
    words: dict[str, Any]


def ready(fact: Fact, digest: str) -> Ready:
    """Make a fact ready to be added. Its body is finished, and used up, when it is added."""
    body = encode(fact, envelope=True)
    words = {word: body.pop(word) for word in _APART[type(fact)] if word in body}
    return Ready(fact, digest, body, words)


def _apart(kind: type[Fact], words: Iterable[str]) -> tuple[str, ...]:
    """Which fields of a fact can be erased. `reason` may be a word of ours, of a list of them."""
    erasable = WORDS - {"reason"} if kind.event in ("copy_failed", "retired") else WORDS
    if kind.event == "received":
        erasable |= {"from"}
    elif kind.event in _PLACES:
        erasable |= {"place"}
    return tuple(word for word in words if word in erasable)


_APART = {
    kind: _apart(kind, (field.word for field in shape.fields)) for kind, shape in SHAPES.items()
}


def spelled(obj: dict[str, Any]) -> bytes:
    """As `canonical`, of what the codec took or made: its names and whole numbers are in order."""
    return _sorted(obj) if _PLAIN.issuperset(map(type, obj.values())) else canonical(obj)


def digest_said(obj: dict[str, Any]) -> str:
    """As `same_body`, of what the codec took."""
    if "sent_at" in obj:
        obj = {word: value for word, value in obj.items() if word != "sent_at"}
    return hashlib.sha256(spelled(obj)).hexdigest()


def commitment(salt: str, said: dict[str, Any]) -> str:
    """What the chain holds of erasable words: salted, so that they cannot be guessed back."""
    return hashlib.sha256(salt.encode() + canonical(said)).hexdigest()


def salted(salt: str, digest: str) -> str:
    """What is kept of the digest of what was said, where it had words."""
    return "s:" + hashlib.sha256(f"{salt}{digest}".encode()).hexdigest()


def fact_from(
    body: bytes,
    said: dict[str, Any] | None,
    *,
    erased: bool,
    fields: Iterable[str] | None = None,
) -> Fact:
    """A fact from its body and its words; words that were erased leave a mark.

    fields: where the words stood; None where nobody knows: then where they must have stood.
    """
    told: dict[str, Any] = _decode(body)
    for word in _OF_THE_CHAIN:
        told.pop(word, None)
    if said is not None:
        told.update(said)
    elif erased:
        told.update(dict.fromkeys(_must_have(told) if fields is None else fields, ERASED))
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
