"""The rows of purchases: read as what they mean, written with their versions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, fields
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, update

from tracker.domain.purchases import Line, Movement, Purchase
from tracker.store import purchase_tables as p
from tracker.store import tables as t
from tracker.store.rows import table

_DAYS = ("ordered", "due", "warranty_until", "return_by")


def said(purchase: Purchase) -> dict[str, Any]:
    """A purchase as it is kept: days in ISO 8601."""
    made = asdict(purchase)
    made |= {day: made[day] and made[day].isoformat() for day in _DAYS}
    return made


def purchase_of(kept: dict[str, Any]) -> Purchase:
    """A purchase as it was kept."""
    days = {day: kept[day] and date.fromisoformat(kept[day]) for day in _DAYS}
    return Purchase(**{one.name: kept[one.name] for one in fields(Purchase)} | days)


def _of_row(row: Row[Any]) -> Purchase:
    return purchase_of({**row._mapping, "order": row.order_number})


def lines(conn: Connection) -> dict[str, tuple[int, Line]]:
    """Every purchase by its id, ordered last first: its version, and what came of it."""
    moved: dict[str, list[Movement]] = {}
    for one in movements(conn):
        if one.withdrawn_at is None:
            moved.setdefault(one.purchase, []).append(movement_of(one))
    asked = select(table(p.Purchase)).order_by(
        p.Purchase.ordered.desc(), p.Purchase.order_number, p.Purchase.item
    )
    return {
        row.id: (row.version, Line(_of_row(row), tuple(moved.get(row.id, ()))))
        for row in conn.execute(asked)
    }


def movement_of(row: Row[Any]) -> Movement:
    """A movement as it was kept."""
    return Movement(row.what, date.fromisoformat(row.day), row.quantity, row.minor)


def movements(conn: Connection, purchase: str | None = None) -> list[Row[Any]]:
    """All that came and went, of one purchase or of all, withdrawn or not, in order."""
    asked = select(table(p.PurchaseMovement)).order_by(
        p.PurchaseMovement.day, p.PurchaseMovement.made_at, p.PurchaseMovement.id
    )
    if purchase is not None:
        asked = asked.where(p.PurchaseMovement.purchase == purchase)
    return list(conn.execute(asked))


def movement(conn: Connection, movement_id: str) -> Row[Any] | None:
    """A movement by its id; None if there is none."""
    asked = select(table(p.PurchaseMovement)).where(p.PurchaseMovement.id == movement_id)
    return conn.execute(asked).one_or_none()


def versions(conn: Connection, purchase: str) -> list[Row[Any]]:
    """Each version of a purchase, the latest first."""
    asked = select(table(p.PurchaseVersion)).where(p.PurchaseVersion.purchase == purchase)
    return list(conn.execute(asked.order_by(p.PurchaseVersion.version.desc())))


def put(
    conn: Connection,
    purchase_id: str,
    version: int,
    purchase: Purchase,
    made_at: datetime,
    made_by: str | None,
) -> None:
    """Keep a version of a purchase; the first one makes it."""
    kept = said(purchase)
    row = {"order_number" if name == "order" else name: value for name, value in kept.items()}
    if version == 1:
        conn.execute(insert(p.Purchase).values(id=purchase_id, version=1, **row))
    else:
        changed = update(p.Purchase).where(p.Purchase.id == purchase_id)
        conn.execute(changed.values(version=version, **row))
    conn.execute(
        insert(p.PurchaseVersion).values(
            purchase=purchase_id, version=version, made_at=made_at, made_by=made_by, said=kept
        )
    )


def add_movement(
    conn: Connection,
    movement_id: str,
    purchase: str,
    moved: Movement,
    made_at: datetime,
    made_by: str | None,
) -> None:
    """Keep what came or went."""
    conn.execute(
        insert(p.PurchaseMovement).values(
            id=movement_id, purchase=purchase, what=moved.what, day=moved.day.isoformat(),
            quantity=moved.quantity, minor=moved.minor, made_at=made_at, made_by=made_by,
        )
    )  # fmt: skip


def withdraw(conn: Connection, movement_id: str, at: datetime, by: str | None) -> None:
    """Let a movement count no more."""
    gone = update(p.PurchaseMovement).where(p.PurchaseMovement.id == movement_id)
    conn.execute(gone.values(withdrawn_at=at, withdrawn_by=by))


def budgets(conn: Connection) -> dict[str, int]:
    """The budget of each currency, in its smallest unit."""
    asked = select(table(p.PurchaseBudget)).order_by(p.PurchaseBudget.version)
    return {row.currency: row.minor for row in conn.execute(asked)}


def set_budget(conn: Connection, currency: str, minor: int, at: datetime, by: str | None) -> None:
    """Keep another version of a budget."""
    last = select(func.max(p.PurchaseBudget.version)).where(p.PurchaseBudget.currency == currency)
    conn.execute(
        insert(p.PurchaseBudget).values(
            currency=currency, version=(conn.scalar(last) or 0) + 1, minor=minor, made_at=at,
            made_by=by,
        )
    )  # fmt: skip


def by_key(found: Iterable[tuple[str, tuple[int, Line]]]) -> dict[tuple[str, str], str]:
    """The id of each purchase by its order and item."""
    return {(line.purchase.order, line.purchase.item): name for name, (_, line) in found}


def cards_named(conn: Connection, labels: Iterable[str]) -> set[str]:
    """Those labels that a card has now."""
    return set(conn.scalars(select(t.Card.label).where(t.Card.label.in_(list(labels)))))
