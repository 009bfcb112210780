"""Labels as they are kept: which card had which, from when to when."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, select

from tracker.domain.facts import CardFact, Registered, Relabelled, Voided
from tracker.domain.labels import EVER, Found, Labels, labels_of
from tracker.domain.voids import in_use_again, voided_by
from tracker.store import tables as t
from tracker.store.journal import facts_of, facts_with
from tracker.store.quick import Among, Quick
from tracker.store.rows import Row, put_many
from tracker.store.types import from_microseconds, to_microseconds

_EVER = -1
_ALL = select(t.Label.label, t.Label.since, t.Label.until, t.Label.card)
_EVERY = Quick(_ALL)
_SOME = Quick(_ALL.where(Among(t.Label.label, "labels")))
FEW = 50
"""Up to so many labels are asked for by name."""


def labels_for(conn: Connection, facts: Iterable[CardFact]) -> Labels:
    """The labels that matter for some facts; where they are many or unknown, all there are."""
    wanted = sorted({fact.card for fact in facts})
    if len(wanted) <= FEW:
        kept = read_labels(conn, wanted)
        if all(kept.known(label) for label in wanted):
            return kept
    return read_labels(conn)


def read_labels(conn: Connection, wanted: Sequence[str] | None = None) -> Labels:
    """The labels as they are kept: some, or all."""
    return _read(_EVERY.all(conn) if wanted is None else _SOME.all(conn, labels=wanted))


def _read(rows: Iterable[Any]) -> Labels:
    return Labels.kept(
        (
            label,
            EVER if since == _EVER else from_microseconds(since),
            None if until is None else from_microseconds(until),
            card,
        )
        for label, since, until, card in rows
    )


@dataclass(frozen=True, slots=True)
class Naming:
    """The labels as the facts have them, without what was taken back.

    facts: those that count, of registrations and new labels. keep: new labels that no void can
    take back. found: what is wrong with them.
    """

    labels: Labels
    facts: Sequence[Registered | Relabelled]
    keep: frozenset[str]
    found: Found


def naming_facts(conn: Connection) -> list[tuple[str, Registered | Relabelled]]:
    """Every registration and every new label of a card, with the card's id."""
    read = facts_with(conn, "registered", "relabelled")
    return [(card, fact) for card, fact in read if isinstance(fact, Registered | Relabelled)]


def naming_of_journal(conn: Connection, more: Sequence[tuple[str, CardFact]] = ()) -> Naming:
    """As the journal has it, with more facts that are not in it yet, each with its card's id."""
    naming = naming_facts(conn)
    naming += [(card, fact) for card, fact in more if isinstance(fact, Registered | Relabelled)]
    keep = frozenset(in_use_again(fact for _, fact in naming))
    gone = _taken_back(conn, {fact.id: card for card, fact in naming}, more) - keep
    counting = [fact for _, fact in naming if fact.id not in gone]
    found: Found = []
    return Naming(labels_of(counting, found), counting, keep, found)


def _taken_back(
    conn: Connection, named: Mapping[str, str], more: Sequence[tuple[str, CardFact]]
) -> set[str]:
    """Which of some facts were taken back by voids. named: their cards' ids, by fact id."""
    voids = [fact for _, fact in [*facts_with(conn, "voided"), *more] if isinstance(fact, Voided)]
    touched = {named[void.target] for void in voids if void.target in named}
    facts = facts_of(conn, sorted(touched))
    for card, fact in more:
        if card in touched:
            facts.setdefault(card, []).append(fact)
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
