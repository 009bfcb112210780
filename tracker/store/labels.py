"""Labels as they are kept: which card had which, from when to when."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, delete, select

from tracker.domain.labels import EVER, Labels
from tracker.store import tables as t
from tracker.store.rows import put_many
from tracker.store.types import from_microseconds, to_microseconds

_EVER = -1


def read_labels(conn: Connection, wanted: Sequence[str] | None = None) -> Labels:
    """The labels as they are kept: some, or all."""
    asked = select(t.Label.label, t.Label.since, t.Label.until, t.Label.card)
    if wanted is not None:
        asked = asked.where(t.Label.label.in_(wanted))
    return Labels.kept(
        (
            label,
            EVER if since == _EVER else from_microseconds(since),
            None if until is None else from_microseconds(until),
            card,
        )
        for label, since, until, card in conn.execute(asked)
    )


def write_labels(conn: Connection, labels: Labels) -> None:
    """All labels, in place of those that are there."""
    conn.execute(delete(t.Label))
    rows = [
        {
            "label": label,
            "since": _EVER if since == EVER else to_microseconds(since),
            "until": None if until is None else to_microseconds(until),
            "card": card,
        }
        for label, since, until, card in labels.spans()
    ]
    put_many(conn, t.Label, rows)
