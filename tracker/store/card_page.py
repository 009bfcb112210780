"""What the page of a card reads beside the card: what is in the cameras."""

from __future__ import annotations

from sqlalchemy import Connection, select

from tracker.store import tables as t


def inside_cameras(conn: Connection) -> dict[str, list[str]]:
    """The labels of the cards in each camera, by its letters."""
    asked = select(t.Card.camera, t.Card.label).where(t.Card.camera.is_not(None))
    inside: dict[str, list[str]] = {}
    for row in conn.execute(asked.order_by(t.Card.camera, t.Card.label)):
        inside.setdefault(str(row.camera), []).append(row.label)
    return inside
