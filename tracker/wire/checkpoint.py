"""A checkpoint in its form as a file: what every chain's head was, and one root for them all.

Chains prove nothing against one who can write the whole journal anew; a checkpoint that is kept
elsewhere does. The root is a Merkle tree's (RFC 6962) over the heads, sorted by subject and
origin; a leaf is the canonical JSON (RFC 8785) of [subject, origin, seq, head].
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from tracker.domain.errors import CardwrightError
from tracker.wire.canonical import canonical
from tracker.wire.merkle import merkle_root

WHAT = "cardwright checkpoint"
FORMAT = 1


class NoCheckpoint(CardwrightError):
    """A file that is no checkpoint, or one that was changed; the message says what to do."""

    def __init__(self, name: object, found: str) -> None:
        super().__init__(f"{name} is no checkpoint that can be trusted: {found}; take another")


class Head(NamedTuple):
    """The last fact of a chain: seq facts it had, the last with that hash in hexadecimal."""

    subject: str
    origin: str
    seq: int
    head: str


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The heads of all chains at a time. production: its name. origin: the service's own."""

    production: str
    origin: str
    made_at: datetime
    heads: tuple[Head, ...]

    @property
    def facts(self) -> int:
        """How many facts there were."""
        return sum(head.seq for head in self.heads)

    @property
    def root(self) -> str:
        """The root, as 64 hexadecimal digits: fit for a printed report."""
        return root_of(self.heads)


def root_of(heads: Sequence[Head]) -> str:
    """The root of some heads, in whatever order they come."""
    return merkle_root([canonical(list(head)) for head in sorted(heads)]).hex()


def written(checkpoint: Checkpoint) -> bytes:
    """A checkpoint as a file, a head on each line."""
    told = {
        "what": WHAT,
        "format": FORMAT,
        "production": checkpoint.production,
        "origin": checkpoint.origin,
        "made_at": checkpoint.made_at.isoformat(),
        "facts": checkpoint.facts,
        "root": checkpoint.root,
    }
    said = json.dumps(told, ensure_ascii=False, indent=1)[: -len("\n}")]
    heads = ",\n  ".join(json.dumps(list(head), ensure_ascii=False) for head in checkpoint.heads)
    return f'{said},\n "heads": [\n  {heads}\n ]\n}}\n'.encode()


def read_checkpoint(data: bytes, name: object) -> Checkpoint:
    """A checkpoint from a file of that name; its root is computed anew. Errors: NoCheckpoint."""
    try:
        told: Any = json.loads(data)
        if told["what"] != WHAT:
            raise NoCheckpoint(name, "it is something else")
        if told["format"] != FORMAT:
            raise NoCheckpoint(name, f"it has the form {told['format']!r}, {FORMAT} is known here")
        heads = tuple(_head(one) for one in told["heads"])
        at = datetime.fromisoformat(told["made_at"])
        found = Checkpoint(str(told["production"]), str(told["origin"]), at, heads)
        whole = (told["root"], told["facts"]) == (found.root, found.facts)
    except (ValueError, TypeError, KeyError, RecursionError):
        raise NoCheckpoint(name, "it is not written as one") from None
    if at.tzinfo is None or not whole or list(heads) != sorted(heads):
        raise NoCheckpoint(name, "its root is not the root of its heads: it was changed")
    return found


def _head(told: Any) -> Head:
    subject, origin, seq, head = told
    if not (isinstance(subject, str) and isinstance(origin, str) and isinstance(head, str)):
        raise TypeError
    if type(seq) is not int or seq < 1:
        raise ValueError
    return Head(subject, origin, seq, head)
