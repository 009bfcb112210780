"""What is in a camera, as far as was said."""

from __future__ import annotations

from sqlalchemy import Connection, select

from tracker.domain.rolls import Roll
from tracker.store import tables as t
from tracker.store.projection import read_state


def inside(conn: Connection, camera: str) -> list[tuple[str, str, Roll]]:
    """The cards in a camera with their open rolls: (card id, label, roll), by slot."""
    asked = select(t.Card.id, t.Card.label).where(t.Card.camera == camera)
    found = []
    for card_id, label in conn.execute(asked).all():
        state = read_state(conn, card_id)
        roll = None if state is None else state.open_roll()
        if roll is not None:
            found.append((card_id, label, roll))
    return sorted(found, key=lambda one: (one[2].slot or 0, one[2].said_in))
