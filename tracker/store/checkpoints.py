"""The heads of all chains, and whether a journal still holds those of a checkpoint."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import Connection, select, tuple_
from sqlalchemy.exc import DBAPIError

from tracker.store import tables as t
from tracker.store.audit import Finding
from tracker.wire.checkpoint import Checkpoint, Head

PIECE = 300


def heads_of(conn: Connection) -> tuple[Head, ...]:
    """The heads as they are kept, sorted by subject and origin."""
    asked = select(t.Chain.subject, t.Chain.origin, t.Chain.count, t.Chain.head)
    return tuple(sorted(Head(*row) for row in conn.execute(asked)))


def checkpoint_of(conn: Connection, at: datetime) -> Checkpoint:
    """A checkpoint of what stands at that time, aware; there must be a production."""
    name, origin = conn.execute(select(t.Production.name, t.Production.origin)).one()
    return Checkpoint(name, origin, at, heads_of(conn))


def verify_against(conn: Connection, checkpoint: Checkpoint) -> Iterator[Finding]:
    """What a journal lacks or has otherwise than a checkpoint says; facts added since are fine.

    It sees what chains cannot: a journal that was written anew, or cut off with its heads.
    """
    origin = conn.scalar(select(t.Production.origin))
    if origin != checkpoint.origin:
        what = f"the checkpoint is of another production ({checkpoint.production})"
        yield Finding("the journal", str(origin), None, None, what)
        return
    since = f"the checkpoint of {checkpoint.made_at:%Y-%m-%d %H:%M %Z}"
    for start in range(0, len(checkpoint.heads), PIECE):
        piece = checkpoint.heads[start : start + PIECE]
        try:
            yield from _verify(conn, piece, since)
        except DBAPIError as error:
            what = f"it cannot be compared with {since}: {' '.join(str(error.orig).split())}"
            yield Finding("the journal", "this database", None, None, what)
            return


def _verify(conn: Connection, heads: tuple[Head, ...], since: str) -> Iterator[Finding]:
    place = tuple_(t.Entry.subject, t.Entry.origin, t.Entry.seq)
    asked = select(
        t.Entry.subject, t.Entry.origin, t.Entry.seq, t.Entry.hash, t.Entry.fact_id
    ).where(place.in_([head[:3] for head in heads]))
    there = {tuple(row[:3]): (row[3], row[4]) for row in conn.execute(asked)}
    for head in heads:
        kept, fact = there.get(head[:3], (None, None))
        if kept is None:
            what = f"it is missing, and was there in {since}"
        elif kept != head.head:
            what = f"it or one before it is another than in {since}: the chain was written anew"
        else:
            continue
        yield Finding(head.subject, head.origin, head.seq, fact, what)
