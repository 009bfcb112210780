"""Photographs, by the SHA-256 of what is kept."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, insert, select

from tracker.store.kept_tables import Photo
from tracker.store.rows import table


def keep(conn: Connection, sha256: str, content: bytes, at: datetime, by: str | None) -> None:
    """Keep a photograph; one that is here already stays as it is."""
    if conn.scalar(select(Photo.sha256).where(Photo.sha256 == sha256)) is None:
        row = {"sha256": sha256, "content": content, "made_at": at, "made_by": by}
        conn.execute(insert(table(Photo)).values(row))


def read(conn: Connection, sha256: str) -> bytes | None:
    """A photograph as it was kept; None if there is none by that name."""
    return conn.scalar(select(Photo.content).where(Photo.sha256 == sha256))
