"""What the production office looks at: what was bought and rented, what it costs, what is late."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from tracker.domain.money import show_money
from tracker.domain.purchases import (
    Line,
    Movement,
    PerTerabyte,
    Purchase,
    Sum,
    Total,
    by_month,
    per_terabyte,
    totals,
)
from tracker.services.production import about
from tracker.services.purchases import delivered_on
from tracker.services.service import Service
from tracker.store import people_lists
from tracker.store import purchase_rows as rows
from tracker.wire.purchase_list import Listed

Which = Literal["all", "to-come", "late", "to-go-back", "lost"]


UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Shown:
    """A purchase in the list. late: some should have come. overdue: some should have gone back."""

    id: str
    line: Line
    late: bool
    overdue: bool

    def is_in(self, which: str) -> bool:
        """Whether it belongs to a shorter list."""
        return {
            "to-come": self.line.to_come > 0,
            "late": self.late,
            "to-go-back": self.line.purchase.terms == "rented" and self.line.here > 0,
            "lost": self.line.count("lost") > 0,
        }.get(which, True)


@dataclass(frozen=True, slots=True)
class Season:
    """All purchases, and what they come to, one currency at a time."""

    today: date
    totals: list[Total]
    months: list[Sum]
    per_terabyte: list[PerTerabyte]
    purchases: list[Shown]

    def count(self, which: str) -> int:
        """How many purchases a list has."""
        return sum(one.is_in(which) for one in self.purchases)


def season(service: Service) -> Season:
    """What was bought and rented, ordered last first."""
    today = service.clock().astimezone(about(service).zone).date()
    with service.store.reading() as conn:
        found = rows.lines(conn)
        budgets = rows.budgets(conn)
    lines = [line for _, line in found.values()]
    months = by_month(lines)
    shown = [_shown(name, line, today) for name, (_, line) in found.items()]
    return Season(today, totals(months, budgets), months, per_terabyte(lines), shown)


def _shown(name: str, line: Line, today: date) -> Shown:
    bought = line.purchase
    late = line.to_come > 0 and bought.due is not None and bought.due < today
    back = bought.return_by
    return Shown(name, line, late, back is not None and back < today and line.here > 0)


def reading(total: Total) -> str:
    """What the money of one currency says today."""
    spent, committed = (
        show_money(total.spent, total.currency),
        show_money(total.committed, total.currency),
    )
    says = f"{spent} spent, {committed} committed"
    if total.left is None:
        return f"{says}; no budget is set in {total.currency}."
    budget = show_money(total.budget, total.currency)
    if total.left < 0:
        return f"{says}: {show_money(-total.left, total.currency)} over the budget of {budget}."
    return f"{says}; of the budget of {budget}, {show_money(total.left, total.currency)} is left."


def listed(found: Iterable[Shown]) -> list[Listed]:
    """Purchases as a list holds them."""
    return [Listed(0, one.line.purchase, delivered_on(one.line)) for one in found]


@dataclass(frozen=True, slots=True)
class Version:
    """A purchase as somebody described it; changes: the fields in which it was changed."""

    number: int
    made_at: datetime
    made_by: str
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Moved:
    """Something that came or went. withdrawn_at: it was a mistake."""

    id: str
    movement: Movement
    made_at: datetime
    made_by: str
    withdrawn_at: datetime | None
    withdrawn_by: str


@dataclass(frozen=True, slots=True)
class OnePurchase:
    """A purchase with its history, the latest first."""

    shown: Shown
    version: int
    versions: list[Version]
    moved: list[Moved]


def one_purchase(service: Service, purchase_id: str) -> OnePurchase | None:
    """A purchase by its id; None if there is none."""
    today = service.clock().astimezone(about(service).zone).date()
    with service.store.reading() as conn:
        found = rows.lines(conn).get(purchase_id)
        if found is None:
            return None
        names = people_lists.names(conn)
        kept = rows.versions(conn, purchase_id)
        moved = rows.movements(conn, purchase_id)
    version, line = found
    described = [rows.purchase_of(row.said) for row in kept]
    before = [*described[1:], None]
    said = [
        Version(row.version, row.made_at, names.get(row.made_by or "", UNKNOWN), _changes(*two))
        for row, two in zip(kept, zip(described, before, strict=False), strict=False)
    ]
    came = [
        Moved(
            row.id, rows.movement_of(row), row.made_at, names.get(row.made_by or "", UNKNOWN),
            row.withdrawn_at, names.get(row.withdrawn_by or "", UNKNOWN),
        )
        for row in reversed(moved)
    ]  # fmt: skip
    return OnePurchase(_shown(purchase_id, line, today), version, said, came)


def _changes(now: Purchase, before: Purchase | None) -> tuple[str, ...]:
    if before is None:
        return ()
    return tuple(name for name in Purchase.__slots__ if getattr(now, name) != getattr(before, name))
