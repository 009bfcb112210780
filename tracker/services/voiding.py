"""What voids of cards' facts change beyond the card: its labels, and whether there is one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, delete, select

from tracker.domain.errors import LabelInUse
from tracker.domain.facts import Fact, Registered, Relabelled, Voided
from tracker.domain.labels import Found, Labels, labels_of
from tracker.domain.voids import in_use_again, voided_by
from tracker.store import journal
from tracker.store import tables as t
from tracker.store.rows import forget


def taken_back(conn: Connection, facts: Iterable[Fact]) -> set[str]:
    """The events of cards that voids take back, or restore, in the end."""
    found = set()
    for fact in facts:
        target = fact.target if isinstance(fact, Voided) else None
        seen: set[str] = set()
        while target is not None and target not in seen:
            seen.add(target)
            asked = select(t.Entry.event, t.Entry.body).where(t.Entry.fact_id == target)
            row = conn.execute(asked).one_or_none()
            target = json.loads(row.body)["target"] if row and row.event == "voided" else None
            found.update([row.event] if row and target is None else [])
    return found


def any_unregistered(conn: Connection, cards: Iterable[str]) -> bool:
    """Whether a card has no registration that counts: the last fact that rested on it went."""
    asked = select(t.Card.id).where(t.Card.media.is_(None))
    return not set(conn.scalars(asked)).isdisjoint(cards)


def labels_anew(conn: Connection) -> Labels:
    """The labels without what was taken back. Errors: LabelInUse if a label is on a card since."""
    naming = naming_facts(conn)
    voids = journal.facts_with(conn, "voided")
    targets = {fact.target for _, fact in voids if isinstance(fact, Voided)}
    gone: set[str] = set()
    doubtful = sorted({subject for subject, fact in naming if fact.id in targets})
    for facts in journal.facts_of(conn, doubtful).values():
        gone.update(voided_by(facts))
    gone -= in_use_again(fact for _, fact in naming)
    found: Found = []
    counting = [fact for _, fact in naming if fact.id not in gone]
    labels = labels_of(counting, found)
    if found:
        raise found[0][2]
    for fact in counting:
        # What is restored must not turn a card that was registered since into one said twice.
        if isinstance(fact, Registered) and not labels.is_card(fact.id):
            raise LabelInUse(fact.card)
    return labels


def naming_facts(conn: Connection) -> list[tuple[str, Registered | Relabelled]]:
    """Every registration and every new label of a card, with the card's id."""
    read = journal.facts_with(conn, "registered", "relabelled")
    return [(card, fact) for card, fact in read if isinstance(fact, Registered | Relabelled)]


def drop_cards(conn: Connection, cards: Sequence[str]) -> None:
    """The rows of cards whose registration was taken back."""
    forget(conn, cards)
    for card_id in cards:
        conn.execute(delete(t.Use).where(t.Use.card == card_id))
        conn.execute(delete(t.Card).where(t.Card.id == card_id))
