"""Words are taken away from a fact for good: free text, and the names of people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Connection, bindparam, null, select

from tracker.store import tables as t
from tracker.store.quick import Quick
from tracker.store.rows import table

_WORDS = table(t.Words)
_KEPT = Quick(
    select(t.Entry.subject, t.Subject.kind, t.Words.said, t.Words.fact_id, t.Words.erased_at)
    .join(t.Subject, t.Subject.id == t.Entry.subject)
    .outerjoin(t.Words, t.Words.fact_id == t.Entry.fact_id)
    .where(t.Entry.fact_id == bindparam("fact"))
)
_ERASE = Quick(
    _WORDS.update()
    .where(_WORDS.c.fact_id == bindparam("fact"))
    .values(
        said=null(),
        salt=null(),
        fields=bindparam("named"),
        erased_at=bindparam("at"),
        erased_by=bindparam("by"),
        erased_why=bindparam("why"),
    )
)


class Worded(NamedTuple):
    """A fact whose words may be erased. kind: of its subject. words: None if it has none (now)."""

    subject: str
    kind: str
    words: dict[str, Any] | None
    erased: bool


def worded(conn: Connection, fact_id: str) -> Worded | None:
    """What may be erased of a fact; None if there is no such fact."""
    row = _KEPT.first(conn, fact=fact_id)
    if row is None:
        return None
    return Worded(row.subject, row.kind, row.said, row.fact_id is not None and row.said is None)


def erase_words(
    conn: Connection, fact_id: str, fields: Iterable[str], at: datetime, by: str | None, why: str
) -> None:
    """Take away the words of a fact, and the salt with which they could be guessed.

    fields: where they stood. by: the id of a person, None for whoever has the data folder.
    """
    _ERASE.run(conn, fact=fact_id, named=" ".join(sorted(fields)), at=at, by=by, why=why)


@contextmanager
def written_over(conn: Connection) -> Iterator[None]:
    """On SQLite, what is deleted or changed in this block is written over with zeros."""
    if conn.dialect.name != "sqlite":
        yield
        return
    conn.exec_driver_sql("PRAGMA secure_delete=ON")
    try:
        yield
    finally:
        conn.exec_driver_sql("PRAGMA secure_delete=OFF")
