"""What the page of the drives reads: how much is on each, and which rolls those are."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, case, func, select

from tracker.store import tables as t
from tracker.store.queries import below_rule, still_there
from tracker.store.rows import table


def drives(conn: Connection) -> list[Row[Any]]:
    """Every drive by label, with its rolls, those below the backup rule, and its known bytes.

    unsized: rolls on it of which nobody knows how large they are.
    """
    size = func.coalesce(t.Copy.size, t.Roll.size)
    on = (
        select(
            t.Copy.drive,
            func.count().label("rolls"),
            func.sum(case((below_rule(), 1), else_=0)).label("below"),
            func.sum(size).label("bytes"),
            func.sum(case((size.is_(None), 1), else_=0)).label("unsized"),
        )
        .join(t.Roll, t.Roll.id == t.Copy.roll)
        .join(t.Drive, t.Drive.label == t.Copy.drive)
        .where(still_there())
        .group_by(t.Copy.drive)
        .subquery()
    )
    asked = (
        select(
            table(t.Drive), t.TodaysDrive.set_at,
            func.coalesce(on.c.rolls, 0).label("rolls"),
            func.coalesce(on.c.below, 0).label("below"),
            func.coalesce(on.c.unsized, 0).label("unsized"),
            on.c.bytes,
        )
        .outerjoin(on, on.c.drive == t.Drive.label)
        .outerjoin(t.TodaysDrive, t.TodaysDrive.drive == t.Drive.label)
        .order_by(t.Drive.label)
    )  # fmt: skip
    return list(conn.execute(asked))


def rolls_on(conn: Connection, drive: str) -> list[Row[Any]]:
    """The rolls on a drive: below the rule first, then the one copied there last."""
    asked = (
        select(
            t.Roll.id, t.Roll.name, t.Card.label.label("card"), t.Roll.held, t.Roll.covered,
            t.Roll.closed, t.Roll.loaded_as, t.Roll.needs_rank, t.Copy.rank, t.Copy.sound,
            t.Copy.finished_at, t.Copy.awaits,
            func.coalesce(t.Copy.size, t.Roll.size).label("bytes"),
        )
        .select_from(t.Copy)
        .join(t.Roll, t.Roll.id == t.Copy.roll)
        .join(t.Card, t.Card.id == t.Roll.card)
        .join(t.Drive, t.Drive.label == t.Copy.drive)
        .where(t.Copy.drive == drive, still_there())
        .order_by(case((below_rule(), 0), else_=1), t.Copy.finished.desc(), t.Roll.name, t.Roll.id)
    )  # fmt: skip
    return list(conn.execute(asked))


def copies_beside(conn: Connection, drive: str) -> list[Row[Any]]:
    """All copies that are there of the rolls on a drive, each with how its drive stands."""
    here = select(t.Copy.roll).where(t.Copy.drive == drive)
    asked = (
        select(
            t.Copy.roll, t.Copy.drive, t.Copy.rank, t.Copy.sound, t.Drive.usable, t.Drive.place,
            t.Drive.failed, t.Drive.lost, t.Drive.returned,
        )
        .join(t.Drive, t.Drive.label == t.Copy.drive)
        .where(t.Copy.roll.in_(here), still_there())
        .order_by(t.Copy.roll, t.Copy.finished)
    )  # fmt: skip
    return list(conn.execute(asked))
