"""Labels as they are kept: which card had which, from when to when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, delete, select

from tracker.domain.facts import CardFact, Voided
from tracker.domain.labels import EVER, Labels, labels_of
from tracker.domain.voids import in_use_again, voided_by
from tracker.store import tables as t
from tracker.store.journal import facts_of, facts_with
from tracker.store.rows import Row, put_many
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


def labels_of_journal(conn: Connection) -> tuple[Labels, frozenset[str]]:
    """The labels as the journal has them, and the new labels that no void can take back."""
    naming = facts_with(conn, "registered", "relabelled")
    keep = frozenset(in_use_again(fact for _, fact in naming))
    gone = _taken_back(conn, {fact.id: subject for subject, fact in naming}) - keep
    counting = [f for _, f in naming if isinstance(f, CardFact) and f.id not in gone]
    return labels_of(counting, []), keep


def _taken_back(conn: Connection, named: Mapping[str, str]) -> set[str]:
    """Which of some facts were taken back by voids. named: their subjects, by fact id."""
    voids = [fact for _, fact in facts_with(conn, "voided") if isinstance(fact, Voided)]
    touched = {named[void.target] for void in voids if void.target in named}
    facts = facts_of(conn, sorted(touched))
    return {fact_id for of_one in facts.values() for fact_id in voided_by(of_one)}


def write_labels(conn: Connection, labels: Labels) -> None:
    """All labels, in place of those that are there."""
    conn.execute(delete(t.Label))
    put_many(conn, t.Label, label_rows(labels))


def label_rows(labels: Labels) -> list[Row]:
    """The rows of all labels."""
    return [
        {
            "label": label,
            "since": _EVER if since == EVER else to_microseconds(since),
            "until": None if until is None else to_microseconds(until),
            "card": card,
        }
        for label, since, until, card in labels.spans()
    ]
