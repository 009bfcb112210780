"""Who has a card, in words; a place and a holder of the same word are said once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tracker.domain import whereabouts
from tracker.domain.whereabouts import Given, Has, in_hands

EIGHT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
LATER = EIGHT + timedelta(hours=1)
LEE = Given("Lee", "camera crew", False, LATER)


@pytest.mark.parametrize(
    ("to", "place", "outside", "says"),
    [
        ("the cart", "cart", False, "the cart"),
        ("Lee", "camera crew", False, "Lee (camera crew)"),
        ("Sam, driver", "driver", False, "Sam, driver"),
        ("Carter", "cart", False, "Carter (cart)"),
        ("the lab", "lab", True, "the lab (outside the production)"),
        ("Noor", "rental house", True, "Noor (rental house, outside the production)"),
    ],
)
def test_to_whom_and_where(to: str, place: str, outside: bool, says: str) -> None:
    assert in_hands(to, place, outside) == says


def test_a_pull_after_it_was_given_makes_the_holder_doubtful() -> None:
    assert whereabouts.out_of_a_camera(LEE, [("A", EIGHT)]).ask == "Lee"
    pulled = whereabouts.out_of_a_camera(LEE, [("A", EIGHT), ("B", LATER + timedelta(minutes=1))])
    assert pulled.says == "out of camera B; nobody said who has it"


def test_of_what_nobody_said_nothing_is_known() -> None:
    assert whereabouts.out_of_a_camera(None, []) == Has(None)
    assert whereabouts.missing(None, EIGHT).says == "nobody knows"
    assert whereabouts.missing("the lift", EIGHT).says == "nobody knows, last seen at the lift"
    assert whereabouts.in_camera("A", EIGHT).says == "in camera A"
