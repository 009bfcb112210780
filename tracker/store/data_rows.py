"""What the page on data reads: what came out of cameras, and what was copied, over time."""

from __future__ import annotations

from typing import Any

from sqlalchemy import BigInteger, Connection, Row, case, func, not_, select, type_coerce

from tracker.store import purchase_tables as p
from tracker.store import tables as t


def rolls_out(conn: Connection, step: int) -> list[Row[Any]]:
    """Rolls that came out of a camera and are not empty, by step of time and camera.

    step: microseconds; `at` counts them since 1970. unsized: rolls of unknown size.
    """
    at = (type_coerce(t.Roll.closed_at, BigInteger) // step).label("at")
    unsized = func.sum(case((t.Roll.size.is_(None), 1), else_=0))
    summed = (
        select(
            at, t.Roll.camera, func.count().label("rolls"), unsized.label("unsized"),
            func.coalesce(func.sum(t.Roll.size), 0).label("size"),
        )
        .where(t.Roll.closed, not_(t.Roll.empty), t.Roll.closed_at.is_not(None))
        .group_by(at, t.Roll.camera)
        .subquery()
    )  # fmt: skip
    asked = select(summed, t.Camera.unit).outerjoin(t.Camera, t.Camera.letters == summed.c.camera)
    return list(conn.execute(asked))


def copies_made(conn: Connection, step: int) -> list[Row[Any]]:
    """Bytes of copies that were finished, as far as they are known, by step of time."""
    at = (type_coerce(t.Copy.finished_at, BigInteger) // step).label("at")
    size = func.coalesce(func.sum(func.coalesce(t.Copy.size, t.Roll.size)), 0)
    asked = select(at, size.label("size")).join(t.Roll, t.Roll.id == t.Copy.roll).group_by(at)
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
