"""What pages and commands read: from the rows, in a few statements, however long the journal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, and_, case, func, not_, select

from tracker.store import tables as t


@dataclass(frozen=True, slots=True)
class Standing:
    """A mishap that stands, with the names that people know."""

    card: str
    kind: str
    roll: str | None
    drive: str | None
    fact: str
    severity: str


def cards(conn: Connection) -> list[Row[Any]]:
    """Every card as it stands, by label, with its cycles and the bytes of its closed rolls."""
    added = (
        select(
            t.Roll.card.label("card"),
            func.coalesce(func.sum(t.Roll.size), 0).label("bytes_logged"),
            func.sum(case((t.Roll.empty, 0), else_=1)).label("cycles"),
        )
        .where(t.Roll.closed)
        .group_by(t.Roll.card)
        .subquery()
    )
    asked = (
        select(
            t.Card.id, t.Card.label, t.Card.status, t.Card.camera, t.Card.holds, t.Card.uncovered,
            t.Card.next, t.Card.who, t.Card.rank, t.Card.may_format, t.Card.since,
            func.coalesce(added.c.cycles, 0).label("cycles"),
            func.coalesce(added.c.bytes_logged, 0).label("bytes_logged"),
        )
        .outerjoin(added, added.c.card == t.Card.id)
        .order_by(t.Card.label, t.Card.id)
    )  # fmt: skip
    return list(conn.execute(asked))


def mishaps(conn: Connection) -> list[Standing]:
    """Every mishap that stands, by card, kind and roll."""
    made = (
        select(
            t.Card.label, t.Mishap.kind, t.Roll.name, t.Mishap.drive, t.Mishap.fact,
            t.Mishap.severity,
        )
        .join(t.Card, t.Card.id == t.Mishap.card)
        .outerjoin(t.Roll, t.Roll.id == t.Mishap.roll)
        .where(t.Mishap.settled_by.is_(None))
    )  # fmt: skip
    found = [
        Standing(label, kind, name, drive or None, fact, severity)
        for label, kind, name, drive, fact, severity in conn.execute(made)
    ]
    found += [
        Standing(label, "covered_no_more", name, None, fact or "", "danger")
        for label, name, fact in conn.execute(_covered_no_more())
    ]
    return sorted(found, key=lambda m: (m.card, m.kind, m.roll or "", m.fact, m.drive or ""))


def _covered_no_more() -> Any:
    """Rolls that were covered when they were wiped, and are not now: asked, never kept."""
    return (
        select(t.Card.label, t.Roll.name, t.Roll.wiped_by)
        .join(t.Card, t.Card.id == t.Roll.card)
        .where(
            and_(t.Roll.covered_when_wiped, not_(t.Roll.covered), not_(t.Roll.loss_settled)),
            t.Roll.wiped.is_not(None),
        )
    )


def below(conn: Connection) -> list[str]:
    """The names of all closed rolls that are below the backup rule, on a card or not."""
    asked = select(t.Roll.name).where(t.Roll.closed, not_(t.Roll.covered))
    return sorted(conn.scalars(asked))
