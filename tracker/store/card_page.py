"""What the page of a card reads beside the card: names of people, what is in the cameras."""

from __future__ import annotations

from sqlalchemy import Connection, select

from tracker.store import people_tables as p
from tracker.store import tables as t


def names_of_people(conn: Connection) -> dict[str, str]:
    """Everybody's name by id, of those too who left."""
    return {row.id: row.name for row in conn.execute(select(p.Person.id, p.Person.name))}


def inside_cameras(conn: Connection) -> dict[str, list[str]]:
    """The labels of the cards in each camera, by its letters."""
    asked = select(t.Card.camera, t.Card.label).where(t.Card.camera.is_not(None))
    inside: dict[str, list[str]] = {}
    for row in conn.execute(asked.order_by(t.Card.camera, t.Card.label)):
        inside.setdefault(str(row.camera), []).append(row.label)
    return inside
