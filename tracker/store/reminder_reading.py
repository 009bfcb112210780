"""What the reminders look at: every card with its rolls, and the facts that their rules ask for."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, func, not_, or_, select
from sqlalchemy.orm import aliased

from tracker.domain.facts import Called, CardFact, Wrapped
from tracker.domain.voids import effective
from tracker.store import tables as t
from tracker.store.journal import facts_matching
from tracker.store.quick import Among, Quick

_VERSIONS = Quick(
    select(t.Chain.subject, func.sum(t.Chain.count).label("count")).group_by(t.Chain.subject)
)
_MAIN = aliased(t.Roll)
_MIRRORS = Quick(
    select(t.Roll.id, t.Roll.card, t.Roll.main, _MAIN.covered)
    .outerjoin(_MAIN, _MAIN.id == t.Roll.main)
    .where(t.Roll.loaded_as == "mirror")
)
_CARDS = select(t.Card.id, t.Card.state)
_ROLLS = select(t.Roll.card, t.Roll.id, t.Roll.state).order_by(t.Roll.card, t.Roll.position)
_MISHAPS = select(
    t.Mishap.card, t.Mishap.fact, t.Mishap.kind, t.Mishap.roll, t.Mishap.drive,
    t.Mishap.settled_by,
)  # fmt: skip
_ALL = (Quick(_CARDS), Quick(_ROLLS), Quick(_MISHAPS))
_SOME = (
    Quick(_CARDS.where(Among(t.Card.id, "ids"))),
    Quick(_ROLLS.where(Among(t.Roll.card, "ids"))),
    Quick(_MISHAPS.where(Among(t.Mishap.card, "ids"))),
)
_ASKED_FOR = ("loaded", "reported_missing", "voided")
"""Events of cards that the rules look at themselves, and what takes them back."""


class Rows(NamedTuple):
    """The rows of a card. rolls: (id, state) in order. mishaps: as their table has them."""

    state: bytes
    rolls: tuple[tuple[str, bytes], ...]
    mishaps: tuple[tuple[Any, ...], ...]


def versions(conn: Connection) -> dict[str, int]:
    """How many facts there are of each subject: it only ever grows."""
    return {row.subject: int(row.count) for row in _VERSIONS.all(conn)}


def mirrors(conn: Connection) -> list[Any]:
    """Every mirror roll: its id and card, its main roll and whether that is covered."""
    return _MIRRORS.all(conn)


def cards(conn: Connection, ids: Iterable[str] | None = None) -> dict[str, Rows]:
    """The rows of some cards, or of all, by card id."""
    if ids is None:
        states, rolls, mishaps = (one.all(conn) for one in _ALL)
    else:
        some = list(ids)
        states, rolls, mishaps = (one.all(conn, ids=some) for one in _SOME)
    rolls_of: dict[str, list[tuple[str, bytes]]] = {}
    for card, roll, state in rolls:
        rolls_of.setdefault(card, []).append((roll, bytes(state)))
    mishaps_of: dict[str, list[tuple[Any, ...]]] = {}
    for card, *made in mishaps:
        mishaps_of.setdefault(card, []).append(tuple(made))
    return {
        card: Rows(bytes(state), tuple(rolls_of.get(card, ())), tuple(mishaps_of.get(card, ())))
        for card, state in states
    }


def facts_asked_for(
    conn: Connection, ids: Iterable[str] | None = None
) -> dict[str, list[CardFact]]:
    """What the rules ask of the journal, of some cards or of all, by card id.

    Loads, reports of missing cards, voids, and whatever made a mishap that stands.
    """
    asked: ColumnElement[bool] = or_(
        t.Entry.event.in_(_ASKED_FOR),
        t.Entry.fact_id.in_(select(t.Mishap.fact).where(t.Mishap.settled_by.is_(None))),
        t.Entry.fact_id.in_(
            select(t.Roll.wiped_by).where(
                t.Roll.wiped_by.is_not(None),
                t.Roll.covered_when_wiped,
                not_(t.Roll.covered),
                not_(t.Roll.loss_settled),
            )
        ),
    )
    if ids is not None:
        asked = and_(Among(t.Entry.subject, "ids"), asked)
    found: dict[str, list[CardFact]] = {}
    given = {} if ids is None else {"ids": list(ids)}
    for subject, fact in facts_matching(conn, asked, **given):
        if isinstance(fact, CardFact):
            found.setdefault(subject, []).append(fact)
    return found


def days(conn: Connection) -> list[Called | Wrapped]:
    """The calls and wraps that count, in no order."""
    of_units = select(t.Subject.id).where(t.Subject.kind == "unit")
    by_unit: dict[str, list[Any]] = {}
    for subject, fact in facts_matching(conn, t.Entry.subject.in_(of_units)):
        by_unit.setdefault(subject, []).append(fact)
    counted = [fact for facts in by_unit.values() for fact in effective(facts)]
    return [fact for fact in counted if isinstance(fact, Called | Wrapped)]
