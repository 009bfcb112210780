"""The tables of what was bought and rented. They do not follow from the journal.

Nothing is ever written over without a trace: each version of a purchase and of a budget is kept,
and a movement that was a mistake is withdrawn.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from tracker.store.tables import Base


class Purchase(Base):
    """A line of an order as it stands: see `domain.purchases.Purchase`. Days are ISO 8601."""

    __tablename__ = "purchase"

    id: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int]
    order_number: Mapped[str]
    item: Mapped[str]
    kind: Mapped[str]
    terms: Mapped[str]
    vendor: Mapped[str]
    quantity: Mapped[int] = mapped_column(BigInteger)
    unit_price: Mapped[int] = mapped_column(BigInteger)
    currency: Mapped[str]
    ordered: Mapped[str]
    capacity_bytes: Mapped[int | None] = mapped_column(BigInteger)
    media: Mapped[str | None]
    due: Mapped[str | None]
    warranty_until: Mapped[str | None]
    return_by: Mapped[str | None]
    lost_charge: Mapped[int | None] = mapped_column(BigInteger)

    __table_args__ = (UniqueConstraint("order_number", "item"),)


class PurchaseVersion(Base):
    """A purchase as somebody described it. said: its fields. made_by: the id of who said it."""

    __tablename__ = "purchase_version"

    purchase: Mapped[str] = mapped_column(ForeignKey("purchase.id"), primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    made_at: Mapped[datetime]
    made_by: Mapped[str | None]
    said: Mapped[dict[str, Any]] = mapped_column(JSON)


class PurchaseMovement(Base):
    """Pieces of a purchase that came, went back or got lost. withdrawn_at: it was a mistake."""

    __tablename__ = "purchase_movement"

    id: Mapped[str] = mapped_column(primary_key=True)
    purchase: Mapped[str] = mapped_column(ForeignKey("purchase.id"), index=True)
    what: Mapped[str]
    day: Mapped[str]
    quantity: Mapped[int] = mapped_column(BigInteger)
    minor: Mapped[int | None] = mapped_column(BigInteger)
    made_at: Mapped[datetime]
    made_by: Mapped[str | None]
    withdrawn_at: Mapped[datetime | None]
    withdrawn_by: Mapped[str | None]


class PurchaseBudget(Base):
    """What may be spent in a currency, in its smallest unit: the highest version counts."""

    __tablename__ = "purchase_budget"

    currency: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    minor: Mapped[int] = mapped_column(BigInteger)
    made_at: Mapped[datetime]
    made_by: Mapped[str | None]
