"""What was bought and rented, and what it costs: by month and kind, by terabyte, in one currency.

A purchase is one line of an order. What came, went back and got lost are its movements. Spent is
what came; committed is what is ordered and has not come.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from tracker.domain.money import half_up

PurchaseKind = Literal["drives", "cards", "other"]
Terms = Literal["bought", "rented"]
MovementKind = Literal["delivered", "returned", "lost"]

TERABYTE = 10**12
"""IEC 80000-13."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """One line of an order, as it was last described; what nobody said is None.

    unit_price, lost_charge: for one piece, in the smallest unit of the currency; of a rental, for
    the whole time. media: what cards are, or what kind of drive, so that a delivery can be taken
    in. return_by: when what is rented goes back.
    """

    order: str
    item: str
    kind: PurchaseKind
    terms: Terms
    vendor: str
    quantity: int
    unit_price: int
    currency: str
    ordered: date
    capacity_bytes: int | None = None
    media: str | None = None
    due: date | None = None
    warranty_until: date | None = None
    return_by: date | None = None
    lost_charge: int | None = None


@dataclass(frozen=True, slots=True)
class Movement:
    """Pieces that came, went back or got lost.

    minor: money that comes back with a return, or is charged for a loss, where it was said; what
    comes is paid at the price of the purchase.
    """

    what: MovementKind
    day: date
    quantity: int
    minor: int | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """A purchase, with all that came of it."""

    purchase: Purchase
    movements: tuple[Movement, ...] = ()

    def count(self, what: MovementKind) -> int:
        """How many pieces came, went back, or got lost."""
        return sum(one.quantity for one in self.movements if one.what == what)

    @property
    def to_come(self) -> int:
        """Pieces that are ordered, and have not come."""
        return max(0, self.purchase.quantity - self.count("delivered"))

    @property
    def here(self) -> int:
        """Pieces that came, and neither went back nor got lost."""
        return self.count("delivered") - self.count("returned") - self.count("lost")


@dataclass(frozen=True, slots=True)
class Sum:
    """Money of one month, kind and currency, in its smallest unit.

    month: "2026-03"; None for what is to come on a day that nobody named. uncharged: pieces that
    got lost for a charge that nobody knows; they are in no sum.
    """

    month: str | None
    kind: PurchaseKind
    currency: str
    spent: int = 0
    committed: int = 0
    uncharged: int = 0


def by_month(lines: Iterable[Line]) -> list[Sum]:
    """What was spent and what is committed, by month, kind and currency; unknown months last."""
    sums: dict[tuple[str | None, PurchaseKind, str], list[int]] = {}
    for line in lines:
        for month, column, amount in _amounts(line):
            bought = line.purchase
            held = sums.setdefault((month, bought.kind, bought.currency), [0, 0, 0])
            held[column] += amount
    order = sorted(sums, key=lambda key: (key[2], key[0] is None, key[0] or "", key[1]))
    return [Sum(*key, *sums[key]) for key in order]


def _amounts(line: Line) -> Iterator[tuple[str | None, int, int]]:
    """Each amount of a line: its month, its column in a sum, and how much."""
    bought = line.purchase
    for one in line.movements:
        if one.what == "delivered":
            yield _month(one.day), 0, one.quantity * bought.unit_price
        elif one.what == "returned":
            yield _month(one.day), 0, -(one.minor or 0)
        else:
            charge = one.minor
            if charge is None and bought.lost_charge is not None:
                charge = one.quantity * bought.lost_charge
            known = charge is not None
            yield _month(one.day), 0 if known else 2, charge if charge is not None else one.quantity
    if line.to_come:
        yield _month(bought.due), 1, line.to_come * bought.unit_price


def _month(day: date | None) -> str | None:
    return None if day is None else f"{day:%Y-%m}"


@dataclass(frozen=True, slots=True)
class Total:
    """All money of one currency. budget: None where nobody set one."""

    currency: str
    spent: int
    committed: int
    uncharged: int
    budget: int | None

    @property
    def left(self) -> int | None:
        """What the budget leaves; None where there is none."""
        return None if self.budget is None else self.budget - self.spent - self.committed


def totals(sums: Iterable[Sum], budgets: dict[str, int]) -> list[Total]:
    """The sums of each currency beside its budget; no two currencies are ever added."""
    held: dict[str, list[int]] = {currency: [0, 0, 0] for currency in budgets}
    for one in sums:
        row = held.setdefault(one.currency, [0, 0, 0])
        row[0] += one.spent
        row[1] += one.committed
        row[2] += one.uncharged
    return [
        Total(code, spent, committed, uncharged, budgets.get(code))
        for code, (spent, committed, uncharged) in sorted(held.items())
    ]


@dataclass(frozen=True, slots=True)
class PerTerabyte:
    """The price of a terabyte (10^12 bytes), in the smallest unit, half up.

    pieces: how many it rests on. unsized: pieces bought of which nobody said how large they are.
    """

    kind: PurchaseKind
    currency: str
    minor: int | None
    pieces: int
    unsized: int


def per_terabyte(lines: Iterable[Line]) -> list[PerTerabyte]:
    """What a terabyte cost, by kind and currency: of all that was bought, none of it rented."""
    held: dict[tuple[PurchaseKind, str], list[int]] = {}
    for line in lines:
        bought = line.purchase
        if bought.terms != "bought" or bought.kind == "other":
            continue
        row = held.setdefault((bought.kind, bought.currency), [0, 0, 0, 0])
        if bought.capacity_bytes is None:
            row[3] += bought.quantity
            continue
        row[0] += bought.quantity * bought.unit_price
        row[1] += bought.quantity * bought.capacity_bytes
        row[2] += bought.quantity
    return [
        PerTerabyte(*key, _price(money, size), pieces, unsized)
        for key, (money, size, pieces, unsized) in sorted(held.items())
    ]


def _price(money: int, size: int) -> int | None:
    return half_up(Fraction(money * TERABYTE, size)) if size else None
