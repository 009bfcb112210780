"""What the page of a card reads beside the card: what is in the cameras, and how old it is."""

from __future__ import annotations

import hashlib
from typing import Any

from sqlalchemy import Connection, select

from tracker.store import tables as t


def inside_cameras(conn: Connection) -> dict[str, list[str]]:
    """The labels of the cards in each camera, by its letters."""
    asked = select(t.Card.camera, t.Card.label).where(t.Card.camera.is_not(None))
    inside: dict[str, list[str]] = {}
    for row in conn.execute(asked.order_by(t.Card.camera, t.Card.label)):
        inside.setdefault(str(row.camera), []).append(row.label)
    return inside


def roll_on_card(conn: Connection, roll_id: str) -> Any:
    """A roll as it is kept (held, state), with the label of its card; None if there is none."""
    asked = select(t.Card.label, t.Roll.held, t.Roll.state)
    found = asked.join(t.Card, t.Card.id == t.Roll.card).where(t.Roll.id == roll_id)
    return conn.execute(found).one_or_none()


def as_it_stands(conn: Connection, label: str) -> tuple[str, str] | None:
    """The id of the card with a label, and a mark that changes with all that is logged about it.

    With what changes without a fact of its own: its status, and whether it may be formatted.
    """
    card = t.Card.__table__.c
    asked = select(card.id, card.facts, card.last, card.status, card.may_format, card.uncovered)
    row = conn.execute(asked.where(card.label == label)).one_or_none()
    if row is None:
        return None
    said = "\n".join(map(str, row[1:]))
    return row.id, hashlib.sha256(said.encode()).hexdigest()[:12]
