"""What finding reads: labels of now and of before, serial numbers, names of rolls."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, func, or_, select

from tracker.store import tables as t


def cards(conn: Connection) -> list[Row[Any]]:
    """Every card's id, label and serial number, by label."""
    asked = select(t.Card.id, t.Card.label, t.Card.serial).order_by(t.Card.label)
    return list(conn.execute(asked))


def former_labels(conn: Connection) -> list[Row[Any]]:
    """Every label that a card has no more, with the id of the card that had it last."""
    asked = (
        select(t.Label.label, t.Label.card)
        .where(t.Label.until.is_not(None))
        .order_by(t.Label.until.desc())
    )
    return list(conn.execute(asked))


def rolls_called(conn: Connection, name: str) -> list[Row[Any]]:
    """The rolls that have or had a name, in any case, the one opened last first."""
    own, low = f"\n{name}\n", f"\n{name.lower()}\n"
    called = or_(
        t.Roll.names.contains(own, autoescape=True),
        # A database may know no case beyond ASCII.
        func.lower(t.Roll.names).contains(low, autoescape=True),
    )
    return list(conn.execute(_ROLLS.where(called).order_by(t.Roll.opened_at.desc(), t.Roll.id)))


def roll_names(conn: Connection) -> list[str]:
    """The name of every roll, once, in order."""
    return list(conn.scalars(select(t.Roll.name).distinct().order_by(t.Roll.name)))


_ROLLS = select(
    t.Roll.id, t.Roll.name, t.Roll.camera, t.Roll.held, t.Roll.closed, t.Roll.covered,
    t.Roll.opened_at, t.Roll.state, t.Card.label, t.Card.status,
).join(t.Card, t.Card.id == t.Roll.card)  # fmt: skip
