"""Money is counted in whole units of one currency, and no two currencies are ever added."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.domain.money import (
    LARGEST,
    PLACES,
    NotMoney,
    half_up,
    parse_money,
    plain_money,
    show_money,
)
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

TB = 10**12
MARCH = date(2026, 3, 2)


def bought(**said: Any) -> Purchase:
    """Four drives of 8 TB at 199.99 EUR each, due in April."""
    usual: dict[str, Any] = {
        "order": "PO-7", "item": "8 TB drive", "kind": "drives", "terms": "bought",
        "vendor": "Quay Supplies", "quantity": 4, "unit_price": 19_999, "currency": "EUR",
        "ordered": MARCH, "due": date(2026, 4, 1), "capacity_bytes": 8 * TB, "media": "hdd",
    }  # fmt: skip
    return Purchase(**{**usual, **said})


# Amounts


@pytest.mark.parametrize(
    ("said", "currency", "minor"),
    [
        ("1234.50", "EUR", 123_450),
        ("1234,5", "EUR", 123_450),
        ("0.1", "EUR", 10),
        ("7", "EUR", 700),
        ("1200", "JPY", 1200),
        ("1200.00", "JPY", 1200),
        ("1.234", "KWD", 1234),
    ],
)
def test_an_amount_is_read_in_the_smallest_unit(said: str, currency: str, minor: int) -> None:
    assert parse_money(said, currency) == minor


@pytest.mark.parametrize(
    ("said", "currency"),
    [
        ("1,234", "EUR"), ("1.000", "EUR"), ("1,234", "KWD"), ("1 234", "EUR"), ("-3", "EUR"),
        ("3.001", "EUR"), ("1e3", "EUR"), ("12 EUR", "EUR"), ("", "EUR"), ("1.5", "JPY"),
        ("99999999999999", "EUR"), ("١٢", "EUR"), ("NaN", "EUR"),
    ],
)  # fmt: skip
def test_an_amount_that_can_be_read_two_ways_is_not_read(said: str, currency: str) -> None:
    with pytest.raises(NotMoney):
        parse_money(said, currency)


@given(st.integers(0, LARGEST), st.sampled_from(sorted(PLACES)))
def test_an_amount_comes_back_as_it_was(minor: int, currency: str) -> None:
    assert parse_money(plain_money(minor, currency), currency) == minor


def test_amounts_as_people_read_them() -> None:
    assert show_money(123_450, "EUR") == "1,234.50 EUR"
    assert show_money(-5, "EUR") == "-0.05 EUR"
    assert show_money(1200, "JPY") == "1,200 JPY"
    assert show_money(None, "EUR") == "unknown"


def test_a_half_goes_up() -> None:
    assert [half_up(Fraction(n, 2)) for n in (1, 2, 3)] == [1, 1, 2]


# Months


def test_what_came_is_spent_and_what_is_to_come_is_committed() -> None:
    line = Line(bought(), (Movement("delivered", date(2026, 3, 9), 3),))
    assert by_month([line]) == [
        Sum("2026-03", "drives", "EUR", spent=3 * 19_999),
        Sum("2026-04", "drives", "EUR", committed=19_999),
    ]
    assert (line.to_come, line.here) == (1, 3)


def test_what_is_due_on_no_known_day_stands_in_no_month() -> None:
    assert by_month([Line(bought(due=None))]) == [Sum(None, "drives", "EUR", committed=4 * 19_999)]


def test_money_that_comes_back_and_charges_for_what_is_lost() -> None:
    rented = bought(terms="rented", lost_charge=50_000, due=MARCH)
    moved = (
        Movement("delivered", MARCH, 4),
        Movement("returned", MARCH, 1, 5_000),
        Movement("returned", MARCH, 1),
        Movement("lost", MARCH, 1),
    )
    assert by_month([Line(rented, moved)]) == [
        Sum("2026-03", "drives", "EUR", spent=4 * 19_999 - 5_000 + 50_000)
    ]


def test_a_charge_that_nobody_knows_is_counted_and_never_nought() -> None:
    line = Line(bought(quantity=1), (Movement("delivered", MARCH, 1), Movement("lost", MARCH, 1)))
    (found,) = by_month([line])
    assert (found.spent, found.uncharged) == (19_999, 1)


def test_currencies_are_never_added() -> None:
    lines = [Line(bought()), Line(bought(order="PO-8", currency="USD"))]
    sums = by_month(lines)
    assert totals(sums, {"EUR": 100_000, "CHF": 5}) == [
        Total("CHF", 0, 0, 0, 5),
        Total("EUR", 0, 79_996, 0, 100_000),
        Total("USD", 0, 79_996, 0, None),
    ]
    assert [total.left for total in totals(sums, {"EUR": 100_000})] == [20_004, None]


LINES = st.lists(
    st.builds(
        lambda price, quantity, came, currency, due: Line(
            bought(unit_price=price, quantity=quantity, currency=currency, due=due),
            (Movement("delivered", MARCH, min(came, quantity)),) if came else (),
        ),
        st.integers(0, LARGEST),
        st.integers(1, 1000),
        st.integers(0, 1000),
        st.sampled_from(["EUR", "USD", "JPY"]),
        st.none() | st.dates(MARCH, date(2027, 1, 1)),
    ),
    max_size=8,
)


@given(LINES)
def test_all_that_was_ordered_is_spent_or_committed(lines: list[Line]) -> None:
    for total in totals(by_month(lines), {}):
        ordered = sum(
            line.purchase.quantity * line.purchase.unit_price
            for line in lines
            if line.purchase.currency == total.currency
        )
        assert total.spent + total.committed == ordered


# By terabyte: counted by hand


def test_the_price_of_a_terabyte() -> None:
    """4 x 199.99 for 32 TB, 1 x 100.00 for 2 TB: 899.96 / 34 = 26.4694... EUR."""
    lines = [
        Line(bought()),
        Line(bought(order="PO-8", quantity=1, unit_price=10_000, capacity_bytes=2 * TB)),
        Line(bought(order="PO-9", quantity=3, capacity_bytes=None)),
        Line(bought(order="PO-10", terms="rented", unit_price=1)),
        Line(bought(order="PO-11", kind="other")),
    ]
    assert per_terabyte(lines) == [PerTerabyte("drives", "EUR", 2647, pieces=5, unsized=3)]


def test_a_terabyte_of_unknown_price() -> None:
    assert per_terabyte([Line(bought(capacity_bytes=None))]) == [
        PerTerabyte("drives", "EUR", None, pieces=0, unsized=4)
    ]
