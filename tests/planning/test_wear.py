"""Wear is bytes written by the rating; what nobody knows is unknown, and never nought."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.planning.wear import Written, carry, gini, lorenz, wear_of

TB = 10**12
CARD = Written("S-014", TB, in_rolls=3 * TB, rolls=6, unsized=0)


def test_a_card_without_a_rating_is_of_unknown_wear() -> None:
    found = wear_of(CARD)
    assert (found.bytes, found.fills, found.source) == (3 * TB, 3.0, "its rolls")
    assert found.wear is None
    assert found.wear_source is None


@pytest.mark.parametrize(
    ("tbw", "capacity", "years", "dwpd"),
    [(600, 1, 5, 0.328767), (1200, 2, 5, 0.328767), (3504, 1.92, 5, 1), (17_520, 3.2, 5, 3)],
)
def test_a_drive_written_as_often_as_it_is_rated_for_is_worn(
    tbw: float, capacity: float, years: int, dwpd: float
) -> None:
    """TBW = DWPD x capacity [TB] x 365 x years (trade convention): all of it written is wear 1."""
    size = round(dwpd * capacity * 365 * years * TB)
    written = Written("S-001", round(capacity * TB), size, 1, 0, endurance_tb=tbw)
    assert wear_of(written).wear == pytest.approx(1, rel=1e-5)


def test_the_counter_knows_what_was_written_before_we_came() -> None:
    card = Written("S-014", TB, 3 * TB, 6, 0, 600, counter=60 * TB, since_counter=TB)
    found = wear_of(card)
    assert (found.bytes, found.source) == (61 * TB, "its counter")
    assert found.wear == pytest.approx(61 / 600)


@pytest.mark.parametrize(
    ("own", "rating", "wear", "source"),
    [
        (0.4, 600, 0.4, "the card itself"),
        (0.001, 600, 0.005, "the rating"),
        (1.2, None, 1.2, "the card itself"),
        (0.0, None, 0.0, "the card itself"),
    ],
)
def test_the_larger_of_two_figures_is_shown(
    own: float, rating: float | None, wear: float, source: str
) -> None:
    found = wear_of(Written("S-014", TB, 3 * TB, 6, 0, rating, own_wear=own))
    assert found.wear == pytest.approx(wear)
    assert found.wear_source == source


def test_rolls_of_unknown_size_make_it_at_least_so_much() -> None:
    assert wear_of(Written("S-014", None, 0, 2, 2)).at_least
    assert wear_of(Written("S-014", None, 0, 2, 2)).fills is None


# Evenness


def test_evenness_counted_by_hand() -> None:
    """1, 1, 2, 4: 2 (1 + 2 + 6 + 16) / (4 * 8) - 5/4 = 5/16; one card carries half."""
    assert gini([4, 1, 2, 1]) == Fraction(5, 16)
    assert carry([4, 1, 2, 1]) == 1
    assert carry([4, 1, 2, 1], Fraction(3, 4)) == 2
    assert lorenz([4, 1, 2, 1])[1:3] == [
        (Fraction(1, 4), Fraction(1, 8)),
        (Fraction(1, 2), Fraction(1, 4)),
    ]


def test_nothing_written_is_neither_even_nor_uneven() -> None:
    for sizes in ([], [0, 0]):
        assert gini(sizes) is None
        assert carry(sizes) is None
        assert lorenz(sizes) == []


@given(st.lists(st.integers(0, 10**15), min_size=1, max_size=30).filter(any))
def test_gini_is_twice_the_area_above_the_curve(sizes: list[int]) -> None:
    points = lorenz(sizes)
    below = sum(
        ((x2 - x1) * (y1 + y2) / 2 for (x1, y1), (x2, y2) in pairwise(points)),
        Fraction(0),
    )
    assert gini(sizes) == 1 - 2 * below
    assert points[-1] == (1, 1)


@given(st.integers(1, 10**15), st.integers(1, 30))
def test_cards_used_alike_are_even(size: int, count: int) -> None:
    assert gini([size] * count) == 0
