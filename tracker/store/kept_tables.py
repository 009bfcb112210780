"""The tables of what is kept beside the journal, and does not follow from it."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Mapped, mapped_column

from tracker.store.tables import Base


class ShortCode(Base):
    """The short code of a subject, as a number. It is on printed labels, so it never changes."""

    __tablename__ = "short_code"

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    subject: Mapped[str] = mapped_column(unique=True)


class Photo(Base):
    """A photograph, encoded anew when it came in. made_by: the id of who sent it."""

    __tablename__ = "photo"

    sha256: Mapped[str] = mapped_column(primary_key=True)
    content: Mapped[bytes]
    made_at: Mapped[datetime]
    made_by: Mapped[str | None]
