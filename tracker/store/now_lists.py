"""What the page Now reads: every card in a few statements, what went wrong, what is not covered."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

import msgspec
from sqlalchemy import Connection, Row, and_, func, not_, select

from tracker.domain.facts import PlanCommitted, ReportedMissing
from tracker.domain.voids import effective
from tracker.store import tables as t
from tracker.store.journal import PRODUCTION, facts_by_id
from tracker.store.queries import below_rule
from tracker.store.quick import Among, Quick


class Given(msgspec.Struct):
    """To whom a card was given last."""

    to: str
    place: str
    occurred_at: datetime
    outside: bool = False


class Kept(msgspec.Struct):
    """What Now needs of a card's kept state; the rest of it is passed over.

    held: ids of the rolls on it, in order.
    """

    held: tuple[str, ...] = ()
    holder: Given | None = None


_kept = msgspec.json.Decoder(Kept)
_CARDS = Quick(
    select(
        t.Card.id, t.Card.label, t.Card.status, t.Card.camera, t.Card.holds, t.Card.uncovered,
        t.Card.next, t.Card.who, t.Card.rank, t.Card.may_format, t.Card.since, t.Card.case,
        t.Card.state,
    )
)  # fmt: skip
_HELD = Quick(
    select(
        t.Roll.id, t.Roll.camera, t.Roll.opened_at, t.Roll.closed_at, t.Roll.closed, t.Roll.guessed
    ).where(Among(t.Roll.id, "ids"))
)
_TWICE = Quick(select(t.Roll.name).group_by(t.Roll.name).having(func.count() > 1))
_USES = Quick(
    select(t.Roll.name, t.Card.label)
    .join(t.Card, t.Card.id == t.Roll.card)
    .where(
        Among(t.Roll.name, "names"),
        (t.Roll.loaded_as == "main") | (t.Roll.loaded_as == "continues"),
        not_(t.Roll.parted),
    )
)
_UNITS = Quick(select(t.Camera.letters, t.Camera.unit))


def cards(conn: Connection) -> list[tuple[Any, Kept]]:
    """Every card as it stands, in no order, each with what is read out of its kept state."""
    return [(row, _kept.decode(row.state)) for row in _CARDS.all(conn)]


def rolls_by_id(conn: Connection, ids: Iterable[str]) -> dict[str, Any]:
    """When some rolls went into which camera and out of it, by id."""
    return {row.id: row for row in _HELD.all(conn, ids=list(ids))}


def units(conn: Connection) -> dict[str, str]:
    """The crew unit of each camera, by its letters."""
    return {row.letters: row.unit for row in _UNITS.all(conn)}


def reported_missing(conn: Connection, card_ids: Iterable[str]) -> dict[str, ReportedMissing]:
    """The report made last of each card that is missing, by the card's id."""
    asked = select(t.Entry.fact_id).where(
        t.Entry.subject.in_(list(card_ids)), t.Entry.event == "reported_missing"
    )
    found = facts_by_id(conn, conn.scalars(asked))
    reports = [(card, fact) for card, fact in found if isinstance(fact, ReportedMissing)]
    return dict(sorted(reports, key=lambda report: report[1].occurred_at))


def standing(conn: Connection) -> list[Row[Any]]:
    """Every mishap that stands: its card, its roll and whether that is covered, and its fact."""
    made = (
        select(
            t.Mishap.fact, t.Mishap.kind, t.Mishap.roll, t.Mishap.drive, t.Card.label,
            t.Card.status, t.Roll.name, t.Roll.covered, t.Roll.closed, t.Roll.held,
            t.Entry.occurred_at, t.Entry.logged_at, t.Entry.origin,
        )
        .join(t.Card, t.Card.id == t.Mishap.card)
        .outerjoin(t.Roll, t.Roll.id == t.Mishap.roll)
        .outerjoin(t.Entry, t.Entry.fact_id == t.Mishap.fact)
        .where(t.Mishap.settled_by.is_(None))
        .order_by(t.Card.label, t.Entry.logged_at, t.Mishap.fact)
    )  # fmt: skip
    return list(conn.execute(made))


def covered_no_more(conn: Connection) -> list[Row[Any]]:
    """Rolls that were covered when they were wiped, and are not now: asked, never kept."""
    asked = (
        select(
            t.Roll.id, t.Roll.wiped_by, t.Card.label, t.Roll.name, t.Entry.occurred_at,
            t.Entry.logged_at, t.Entry.origin,
        )
        .join(t.Card, t.Card.id == t.Roll.card)
        .outerjoin(t.Entry, t.Entry.fact_id == t.Roll.wiped_by)
        .where(
            and_(t.Roll.covered_when_wiped, not_(t.Roll.covered), not_(t.Roll.loss_settled)),
            t.Roll.wiped.is_not(None),
            t.Roll.wiped_by.is_not(None),
        )
        .order_by(t.Card.label, t.Roll.name)
    )  # fmt: skip
    return list(conn.execute(asked))


def count_below(conn: Connection) -> int:
    """How many closed rolls are below the backup rule, on a card or not."""
    return conn.scalar(select(func.count()).select_from(t.Roll).where(below_rule())) or 0


def below(conn: Connection) -> list[Row[Any]]:
    """The closed rolls below the backup rule, those that are on no card first, then the oldest."""
    asked = (
        select(
            t.Roll.name, t.Roll.camera, t.Roll.held, t.Roll.closed_at, t.Roll.size, t.Roll.state,
            t.Card.label, t.Card.status,
        )
        .join(t.Card, t.Card.id == t.Roll.card)
        .where(below_rule())
        .order_by(t.Roll.held, t.Roll.closed_at, t.Roll.name)
    )  # fmt: skip
    return list(conn.execute(asked))


# What the doubts ask


def mirrors_wiped_early(conn: Connection) -> list[tuple[str, str]]:
    """Mirrors that were wiped while their main roll was not covered: (card's label, roll)."""
    asked = (
        select(t.Card.label, t.Roll.name)
        .join(t.Card, t.Card.id == t.Roll.card)
        # Said first, since an index knows the mirrors.
        .where(t.Roll.loaded_as == "mirror", t.Roll.mirror_wiped_early)
        .order_by(t.Card.label, t.Roll.name)
    )
    return [(label, name) for label, name in conn.execute(asked)]


def names_used_twice(conn: Connection) -> list[tuple[str, str]]:
    """Each use of a roll name that two rolls of the production have: (name, card's label)."""
    # Two statements: the names alone are read from their index, and few are there twice. Of one,
    # the database makes a walk through every roll.
    twice = [row.name for row in _TWICE.all(conn)]
    if not twice:
        return []
    return [(row.name, row.label) for row in _USES.all(conn, names=twice)]


def plans(conn: Connection) -> list[PlanCommitted]:
    """The plans that were committed and not taken back, in the order of logging."""
    asked = select(t.Entry.fact_id).where(
        t.Entry.subject == PRODUCTION, t.Entry.event.in_(("plan_committed", "voided"))
    )
    counted = effective([fact for _, fact in facts_by_id(conn, conn.scalars(asked))])
    return [fact for fact in counted if isinstance(fact, PlanCommitted)]
