"""What a card holds: a list of rolls, and what is known of it before anybody shot."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from tests.stories import GB, production, story


def test_a_registered_card_is_unseen_until_somebody_looks() -> None:
    assert story("S-014").stands == ("unseen", [])


def test_a_card_that_is_formatted_in_a_camera_has_been_seen() -> None:
    assert story("S-014").formatted("camera", "A").stands == ("ready", [])


def test_a_card_that_is_formatted_on_a_computer_has_been_seen() -> None:
    told = story("S-014").formatted("computer")
    assert told.stands == ("cleared", [("formatted_on_computer", None)])


def test_a_card_checked_in_empty_has_been_seen_and_may_be_formatted() -> None:
    """Nothing on it owes, and it was not formatted in a camera: it is cleared, not ready."""
    assert story("S-014").checked_in("empty").stands == ("cleared", [])


def test_looking_at_a_card_is_not_the_same_as_copying_from_it() -> None:
    """Only a check-in or a format says what was on it before."""
    told = story("S-014").loaded("A", "A001").pulled(gb=480).backed_up().written_off("A001")
    assert told.stands == ("unseen", [])


def test_a_card_loaded_unseen_without_a_format_stays_unseen() -> None:
    """It may not be cleared before somebody has looked, though the roll on it is covered."""
    told = story("S-014").loaded("A", "A001").pulled(gb=480).backed_up()
    assert told.stands == ("backed up", [])
    told.cleared()
    assert told.stands == ("backed up", [("cleared_uncovered", None)])


def test_a_card_loaded_unseen_may_be_cleared_once_somebody_has_looked() -> None:
    told = story("S-014").loaded("A", "A001").pulled(gb=480).backed_up()
    assert told.checked_in("footage").cleared().stands == ("cleared", [])


def test_a_card_typed_in_after_the_first_day_counts_from_the_start() -> None:
    """An inventory comes late; the facts of the first day are of the card all the same."""
    told = production().card("S-014", register=False).shot("A001")
    told.day(3).registered()
    assert told.stands == ("exposed", [])
    assert told.holds == ["A001"]
    assert told.state.registered is not None


def test_a_registration_anywhere_in_a_batch_counts_for_all_of_it() -> None:
    first = story("S-014").shot("A001").backed_up()
    assert first.facts[3].event == "registered"
    last = first.facts[:3] + first.facts[4:] + first.facts[3:4]
    told = production()
    told.facts = last
    assert told.card("S-014").stands == ("backed up", [])


def test_a_known_label_registered_again_is_said_twice() -> None:
    """It is compared, not taken in as another card: what was said first stands."""
    told = story("S-014", capacity_gb=1000).shot("A001").registered(capacity_gb=256)
    assert len(told.production.views()) == 1
    assert told.state.registered is not None
    assert told.state.registered.capacity_bytes == 1000 * GB
    assert told.stands == ("exposed", [])


def test_a_card_loaded_again_without_a_format_holds_both_rolls() -> None:
    """One covered, one not: the card is exposed, and only the second roll is uncovered."""
    told = story("S-014").shot("A001").backed_up().cleared().loaded("B", "B003").pulled(gb=200)
    assert told.stands == ("exposed", [])
    assert told.holds == ["A001", "B003"]
    assert told.uncovered == ["B003"]


def test_both_rolls_must_be_covered_before_the_card_may_be_cleared() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().loaded("B", "B003").pulled(gb=200)
    assert told.backed_up().stands == ("backed up", [])
    assert told.uncovered == []
    assert told.cleared().stands == ("cleared", [])


def test_the_size_of_what_was_shot_adds_up_over_cycles() -> None:
    told = story("S-014").shot("A001", gb=480).backed_up().cleared().shot("B003", 200, "B")
    assert told.view().cycles == 2
    assert told.view().bytes_logged == 680 * GB


@pytest.mark.parametrize("found", ["empty", "footage"])
def test_a_check_in_says_that_the_card_is_out_of_the_camera(found: str) -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).checked_in(found)
    expected = [("found_empty", "A001")] if found == "empty" else []
    assert told.stands == ("exposed", [*expected, ("pull_missing", "A001")])
    assert told.holds == ["A001"]


def test_footage_found_on_a_card_that_should_hold_none_is_a_roll() -> None:
    """It is named after the card and the time, and owes until it is backed up."""
    told = story("S-014").checked_in("footage", at="09:15")
    assert told.stands == ("exposed", [])
    assert told.uncovered == ["S-014/2026-03-02/09:15"]
    assert told.backed_up().stands == ("backed up", [])


def test_footage_found_may_be_written_off() -> None:
    told = story("S-014").checked_in("footage", at="09:15")
    assert told.written_off("S-014/2026-03-02/09:15").stands == ("cleared", [])
    assert told.holds == []


def test_footage_found_is_named_in_the_zone_of_the_production() -> None:
    told = production(zone=ZoneInfo("America/New_York")).card("S-014")
    assert told.checked_in("footage", at="23:50").holds == ["S-014/2026-03-02/23:50"]


def test_footage_found_where_a_roll_owes_is_that_roll() -> None:
    told = story("S-014").shot("A001").backed_up().checked_in("footage")
    assert told.stands == ("backed up", [])
    assert told.holds == ["A001"]


def test_footage_found_where_nothing_owes_any_more_is_another_roll() -> None:
    told = story("S-014").shot("A001").written_off("A001").checked_in("footage", at="12:00")
    assert told.stands == ("exposed", [])
    assert told.holds == ["S-014/2026-03-02/12:00"]


def test_a_card_checked_in_empty_loses_nothing_that_it_should_hold() -> None:
    """Nobody wiped it: each uncovered roll is asked for, and stays on the card."""
    told = story("S-014").shot("A001").backed_up().cleared().loaded("B", "B003").pulled(gb=1)
    told.checked_in("empty")
    assert told.stands == ("exposed", [("found_empty", "B003")])
    assert told.holds == ["A001", "B003"]


def test_every_uncovered_roll_on_a_card_found_empty_is_asked_for() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").pulled(gb=1).checked_in("empty")
    assert told.stands == (
        "exposed",
        [("found_empty", "A001"), ("found_empty", "B003"), ("loaded_uncovered", "A001")],
    )


def test_a_visiting_card_is_given_back_and_never_ready() -> None:
    told = story("S-014", visiting=True)
    assert told.stands == ("unseen", [])
    assert told.checked_in("empty").stands == ("backed up", [])
    assert told.formatted("camera", "A").stands == ("backed up", [])


def test_a_visiting_card_is_never_cleared() -> None:
    told = story("S-014", visiting=True).checked_in("footage")
    assert told.status == "exposed"
    assert told.backed_up().stands == ("backed up", [])
    assert told.cleared().stands == ("backed up", [("cleared_uncovered", None)])


def test_an_override_does_not_clear_a_visiting_card() -> None:
    told = story("S-014", visiting=True).checked_in("footage").overridden()
    assert told.stands == ("exposed", [("cleared_uncovered", None)])


def test_an_override_does_not_clear_an_unseen_card() -> None:
    told = story("S-014").loaded("A", "A001").pulled(gb=480).overridden()
    assert told.stands == ("exposed", [("cleared_uncovered", None)])
