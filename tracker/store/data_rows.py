"""What the page on data reads: what came out of cameras, and what was copied, over time."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, func, not_, select

from tracker.store import purchase_tables as p
from tracker.store import tables as t


def rolls_out(conn: Connection) -> list[Row[Any]]:
    """Rolls that came out of a camera and are not empty: when, of which camera, how large."""
    asked = (
        select(t.Roll.closed_at, t.Roll.camera, t.Camera.unit, t.Roll.size.label("size"))
        .outerjoin(t.Camera, t.Camera.letters == t.Roll.camera)
        .where(t.Roll.closed, not_(t.Roll.empty), t.Roll.closed_at.is_not(None))
    )
    return list(conn.execute(asked))


def copies_made(conn: Connection) -> list[Row[Any]]:
    """Copies that were finished: when, and how large, as far as that is known."""
    size = func.coalesce(t.Copy.size, t.Roll.size)
    asked = select(t.Copy.finished_at, size.label("size")).join(t.Roll, t.Roll.id == t.Copy.roll)
    return list(conn.execute(asked))


def drives_delivered(conn: Connection) -> list[Row[Any]]:
    """Deliveries of drives that count: the day, how many, and of what capacity each."""
    asked = (
        select(p.PurchaseMovement.day, p.PurchaseMovement.quantity, p.Purchase.capacity_bytes)
        .join(p.Purchase, p.Purchase.id == p.PurchaseMovement.purchase)
        .where(
            p.Purchase.kind == "drives",
            p.PurchaseMovement.what == "delivered",
            p.PurchaseMovement.withdrawn_at.is_(None),
        )
    )
    return list(conn.execute(asked))
