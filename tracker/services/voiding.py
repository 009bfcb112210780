"""What voids of cards' facts change beyond the card: its labels, and whether there is one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy import Connection, bindparam, delete, select

from tracker.domain.errors import LabelInUse
from tracker.domain.facts import CardFact, Fact, Registered, Voided
from tracker.domain.labels import Found, Labels
from tracker.store import tables as t
from tracker.store.labels import naming_of_journal
from tracker.store.quick import Among, Quick
from tracker.store.rows import forget

_KEPT = Quick(
    select(t.Entry.event, t.Entry.subject, t.Entry.body, t.Card.id.is_not(None).label("there"))
    .outerjoin(t.Card, t.Card.id == t.Entry.subject)
    .where(t.Entry.fact_id == bindparam("fact"))
)
_THERE = Quick(select(t.Card.id).where(Among(t.Card.id, "cards")))


def taken_back(
    conn: Connection, facts: Iterable[Fact], just_said: Mapping[str, Fact] | None = None
) -> set[str]:
    """The events of cards that voids take back, or restore, in the end.

    just_said: facts by id that need not be in the journal yet.
    """
    known = just_said or {}
    found = set()
    for fact in facts:
        target = fact.target if isinstance(fact, Voided) else None
        seen: set[str] = set()
        while target is not None and target not in seen:
            seen.add(target)
            event, target = _event_of(conn, target, known)
            found.update([event] if event and target is None else [])
    return found


def _event_of(
    conn: Connection, fact_id: str, known: Mapping[str, Fact]
) -> tuple[str | None, str | None]:
    """The event of a fact, and what it takes back itself."""
    fact = known.get(fact_id)
    if fact is not None:
        return fact.event, getattr(fact, "target", None) if fact.event == "voided" else None
    row = _KEPT.first(conn, fact=fact_id)
    if row is None:
        return None, None
    return row.event, json.loads(row.body)["target"] if row.event == "voided" else None


def card_gone(conn: Connection, fact: Voided) -> str | None:
    """The card of what a void takes back, if that has no label any more by which to name it.

    The void names it by the label by which its target did.
    """
    row = _KEPT.first(conn, fact=fact.target)
    if row is None or row.there or json.loads(row.body).get("card") != fact.card:
        return None
    return str(row.subject)


def any_unregistered(conn: Connection, cards: Iterable[str]) -> bool:
    """Whether a card has no registration that counts: the last fact that rested on it went."""
    asked = select(t.Card.id).where(t.Card.media.is_(None))
    return not set(conn.scalars(asked)).isdisjoint(cards)


def cards_there(conn: Connection, cards: Iterable[str]) -> set[str]:
    """Which of some cards have rows."""
    return {row.id for row in _THERE.all(conn, cards=sorted(cards))}


def labels_anew(
    conn: Connection, more: Sequence[tuple[str, CardFact]] = ()
) -> tuple[Labels, Found]:
    """The labels without what was taken back, and what is wrong with them.

    more: facts that are not in the journal yet, each with the id of its card.
    """
    naming = naming_of_journal(conn, more)
    said = {fact.id for _, fact in more}
    # What is restored must not turn a card that was registered since into one said twice.
    twice: Found = [
        (fact.id, "card", LabelInUse(fact.card))
        for fact in naming.facts
        if isinstance(fact, Registered)
        and not naming.labels.is_card(fact.id)
        and fact.id not in said
    ]
    return naming.labels, naming.found + twice


def drop_cards(conn: Connection, cards: Sequence[str]) -> None:
    """The rows of cards whose registration was taken back."""
    forget(conn, cards)
    for card_id in cards:
        conn.execute(delete(t.Use).where(t.Use.card == card_id))
        conn.execute(delete(t.Card).where(t.Card.id == card_id))
