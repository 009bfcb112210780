"""What was written to each card, from rolls and counters; where the cards were."""

from __future__ import annotations

from datetime import date
from typing import Any

from tests.services.harbour import GB, KIM, Harbour
from tracker.services import acts_camera, acts_card, rotation_page, wear_page
from tracker.services.logging import log_live
from tracker.services.service import new_id
from tracker.services.wear_page import Worn


def shot(harbour: Harbour, card: str, size_bytes: int | None, *, minutes: float = 60) -> None:
    """A card goes into camera A, and comes out full of so much."""
    acts_camera.load(harbour.service, KIM, card, "A")
    acts_camera.format_in_camera(harbour.service, KIM, card)
    harbour.clock.wait(minutes)
    acts_camera.pull(harbour.service, KIM, card, bytes_=size_bytes)
    harbour.clock.wait()


def worn(harbour: Harbour, label: str) -> Worn:
    return next(one for one in wear_page.cards_worn(harbour.service) if one.label == label)


def read(harbour: Harbour, card: str, **said: Any) -> None:
    """A tool reads the health of a card."""
    at = harbour.clock.now.isoformat()
    fact = {"id": new_id(), "event": "health_read", "card": card, "occurred_at": at}
    log_live(harbour.service, [{**fact, "tool": "cardhealth", "verdict": "good", **said}], who=KIM)
    harbour.clock.wait()


def test_rolls_say_what_was_written(harbour: Harbour) -> None:
    shot(harbour, "S-014", 400 * GB)
    shot(harbour, "S-014", 600 * GB)
    found = worn(harbour, "S-014").wear
    assert (found.bytes, found.fills, found.source) == (1_000 * GB, 1.0, "its rolls")
    assert found.wear is None
    assert not found.at_least
    first, *others = wear_page.cards_worn(harbour.service)
    assert first.label == "S-014"
    assert [one.wear.bytes for one in others] == [0, 0]


def test_a_roll_of_unknown_size_is_not_nought(harbour: Harbour) -> None:
    shot(harbour, "S-014", None)
    assert worn(harbour, "S-014").wear.at_least


def test_a_counter_counts_and_rolls_after_it_are_added(harbour: Harbour) -> None:
    shot(harbour, "S-014", 400 * GB)
    read(harbour, "S-014", host_bytes_written=9_000 * GB)
    shot(harbour, "S-014", 500 * GB)
    found = worn(harbour, "S-014").wear
    assert (found.bytes, found.source) == (9_500 * GB, "its counter")
    # A life before is no use of ours: of what was shot here, the counter changes nothing.
    assert max(wear_page.logged_sizes(wear_page.cards_worn(harbour.service))) == 900 * GB
    read(harbour, "S-015", wear_percent=12.5)
    assert worn(harbour, "S-015").wear.wear == 0.125


def test_a_rating_makes_wear_known(harbour: Harbour) -> None:
    acts_card.register_card(
        harbour.service, KIM, "S-020", "2.5in SSD", 1_000 * GB, endurance_tb=4.0
    )
    acts_card.check_in(harbour.service, KIM, "S-020", "empty")
    shot(harbour, "S-020", 500 * GB)
    assert worn(harbour, "S-020").wear.wear == 0.125
    cards = wear_page.cards_worn(harbour.service)
    assert wear_page.reading_of_wear(cards) == (
        "S-020 is worn most: 12.5% of what it is rated for. Wear is unknown for 3 of 4 cards."
    )
    assert "1 card carries half of all that was shot here, of 4" in (
        wear_page.reading_of_writes(cards)
    )


def test_a_card_that_is_out_of_the_pool_is_in_no_sentence(harbour: Harbour) -> None:
    shot(harbour, "S-014", 400 * GB)
    read(harbour, "S-014", wear_percent=99.0)
    acts_card.retire(harbour.service, KIM, "S-014", "worn")
    cards = wear_page.cards_worn(harbour.service)
    assert cards[0].label == "S-014"
    assert wear_page.reading_of_wear(cards).startswith("Wear is unknown for every card")
    assert wear_page.logged_sizes(cards) == [0, 0]


def test_nothing_written_and_nothing_rated(harbour: Harbour) -> None:
    cards = wear_page.cards_worn(harbour.service)
    assert wear_page.reading_of_wear(cards).startswith("Wear is unknown for every card")
    assert wear_page.reading_of_writes(cards).startswith("Nothing of known size")


# Rotation


def test_where_a_card_was(harbour: Harbour) -> None:
    shot(harbour, "S-014", 400 * GB)
    shot(harbour, "S-015", 400 * GB)
    harbour.checked("S-014", "RAID", "VAULT")
    harbour.clock.wait()
    seen = rotation_page.rotation(harbour.service, None, 1)
    assert seen.exact
    found = {(one.card, one.what) for one in seen.stretches_of()}
    assert found == {
        ("S-014", "in a camera"),
        ("S-014", "holds footage, covered"),
        ("S-015", "in a camera"),
        ("S-015", "holds footage, not covered"),
    }
    assert seen.counts()["S-015"] == {"holds footage, not covered": 1}
    assert rotation_page.reading(seen) == (
        "2 cards were in a camera in this time. Held footage that is not covered, or was "
        "formatted before it was: S-015."
    )


def test_another_day_and_all_days(harbour: Harbour) -> None:
    shot(harbour, "S-014", 400 * GB)
    harbour.clock.wait(60 * 24 * 3)
    assert rotation_page.rotation(harbour.service, date(2026, 3, 1), 1).stretches_of() == []
    every = rotation_page.rotation(harbour.service, None, None)
    assert (every.first, every.last) == (date(2026, 3, 2), date(2026, 3, 5))
    assert every.counts()["S-014"]["holds footage, not covered"] == 4
    # A day that is still to come is today.
    ahead = rotation_page.rotation(harbour.service, date(2030, 1, 1), 1)
    assert ahead.last == date(2026, 3, 5)
