"""What a morning's page reads besides: reels, today's drives, who a person is."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, select

from tracker.store import tables as t


def card_ids(conn: Connection) -> list[str]:
    """The ids of all cards, by label."""
    return list(conn.scalars(select(t.Card.id).order_by(t.Card.label, t.Card.id)))


def last_reels(conn: Connection) -> dict[str, str]:
    """The roll name given last in each camera, as far as there is one."""
    rows = conn.execute(select(t.Reel.camera, t.Reel.last))
    return {row.camera: row.last for row in rows}


def todays_drives(conn: Connection) -> list[tuple[str, datetime]]:
    """The drives that take today's copies, by label, each with when it was chosen."""
    asked = select(t.TodaysDrive.drive, t.TodaysDrive.set_at).order_by(t.TodaysDrive.drive)
    return [(row.drive, row.set_at) for row in conn.execute(asked)]
