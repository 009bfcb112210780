"""The rolls whose names were guessed, and that nobody confirmed."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, select

from tracker.store import tables as t


def guessed(conn: Connection) -> list[Any]:
    """Those on a card now, by camera and in the order of shooting.

    id, name, card (its label), camera, opened_at, closed_at; closed_at is None in a camera.
    """
    asked = (
        select(
            t.Roll.id, t.Roll.name, t.Card.label.label("card"), t.Roll.camera, t.Roll.opened_at,
            t.Roll.closed_at,
        )
        .join(t.Card, t.Card.id == t.Roll.card)
        .where(t.Roll.guessed, t.Roll.held)
        .order_by(t.Roll.camera, t.Roll.opened_at, t.Roll.name)
    )  # fmt: skip
    return list(conn.execute(asked))
