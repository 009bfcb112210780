"""A card goes into a camera, and a roll is opened."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from tests.stories import production, story


def test_a_load_opens_a_roll() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True)
    assert told.stands == ("loaded", [])
    assert told.holds == ["A001"]
    assert told.view().camera == "A"


@pytest.mark.parametrize("kind", ["main", "continues", "mirror", "proxy"])
def test_a_load_says_what_the_card_is_for(kind: str) -> None:
    told = story("S-014").loaded("A", "A001", loaded_as=kind)
    assert told.roll("A001").loaded_as == kind


def test_a_load_is_for_main_footage_unless_said() -> None:
    assert story("S-014").loaded("A", "A001").roll("A001").loaded_as == "main"


def test_a_format_said_with_the_load_comes_a_moment_after_it() -> None:
    """The usual order on set: load, format, shoot. What was on the card is wiped."""
    told = story("S-014").shot("A001").backed_up().cleared()
    told.loaded("B", "B003", formatted=True)
    assert told.stands == ("loaded", [])
    assert told.holds == ["B003"]


def test_a_format_said_with_the_load_of_an_uncovered_card_is_two_mishaps() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003", formatted=True)
    assert told.stands == (
        "loaded",
        [("formatted_uncovered", "A001"), ("loaded_uncovered", "A001")],
    )
    assert told.below == ["A001"]


def test_a_format_said_with_the_load_makes_the_card_ready_once_nothing_owes() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).pulled(gb=1)
    assert told.written_off("A001").stands == ("ready", [])


def test_the_same_load_said_twice_changes_nothing() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).loaded("A", "A001")
    assert told.stands == ("loaded", [])
    assert told.holds == ["A001"]


def test_a_second_load_in_the_same_camera_that_names_no_roll_is_said_twice() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).loaded("A")
    assert told.stands == ("loaded", [])
    assert told.holds == ["A001"]


def test_a_load_said_twice_does_not_start_the_fifteen_minutes_again() -> None:
    told = story("S-014").loaded("A", "A001", at="08:00").loaded("A", "A001", at="08:20")
    told.formatted("camera", "A", at="08:25")
    assert told.stands == ("loaded", [("formatted_late", "A001")])


def test_a_load_said_twice_of_a_card_set_aside_meanwhile_is_no_new_load() -> None:
    told = story("S-014").loaded("A", "A001").set_aside().loaded("A", "A001")
    assert told.stands == ("set aside", [])


def test_a_format_said_with_the_second_saying_of_a_load_acts() -> None:
    """As if said at the load: never late. What the card held before is wiped."""
    told = story("S-014").shot("A001").loaded("B", "B003", at="09:00")
    told.loaded("B", "B003", at="10:00", formatted=True)
    assert told.stands == (
        "loaded",
        [("formatted_uncovered", "A001"), ("loaded_uncovered", "A001")],
    )
    assert told.holds == ["B003"]


def test_a_format_said_again_after_one_was_logged_does_nothing() -> None:
    """The clearing was used up by the first; a second format would have wiped nothing."""
    told = story("S-014").loaded("A", "A001", formatted=True).loaded("A", formatted=True)
    formats = told.state.last_format
    assert formats is not None
    assert formats.at[0].minute == 10
    assert told.stands == ("loaded", [])


def test_a_format_logged_by_itself_also_stands_for_the_one_said_again() -> None:
    told = story("S-014").loaded("A", "A001").formatted("camera", "A")
    told.loaded("A", "A001", formatted=True)
    assert told.state.last_format is not None
    assert told.state.last_format.at[0].minute == 20
    assert told.stands == ("loaded", [])


def test_a_card_loaded_in_another_camera_has_left_the_first() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).loaded("B", "B003")
    assert told.stands == ("loaded", [("loaded_uncovered", "A001"), ("pull_missing", "A001")])
    assert told.view().camera == "B"
    assert told.holds == ["A001", "B003"]


def test_a_card_loaded_as_another_roll_in_the_same_camera_was_out_between() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).loaded("A", "A002")
    assert told.stands == ("loaded", [("loaded_uncovered", "A001"), ("pull_missing", "A001")])
    assert told.holds == ["A001", "A002"]


def test_an_uncovered_roll_on_a_card_that_is_loaded_is_in_danger() -> None:
    told = story("S-014").shot("A001").checked("RAID").loaded("B", "B003")
    assert told.stands == ("loaded", [("loaded_uncovered", "A001")])


def test_a_covered_roll_on_a_card_that_is_loaded_is_not() -> None:
    told = story("S-014").shot("A001").backed_up().loaded("B", "B003")
    assert told.stands == ("loaded", [])
    assert told.holds == ["A001", "B003"]


def test_a_roll_nobody_named_is_called_by_card_and_time() -> None:
    told = production(zone=ZoneInfo("Australia/Sydney")).card("S-014").loaded("A", at="16:50")
    assert told.holds == ["S-014/2026-03-02/16:50"]


def test_a_guessed_name_is_used_and_known_to_be_guessed() -> None:
    told = story("S-014").loaded("A", guessed_roll="A017")
    assert told.holds == ["A017"]
    assert told.roll("A017").guessed


def test_a_name_that_was_said_beats_the_guess() -> None:
    told = story("S-014").loaded("A", "A018", guessed_roll="A017")
    assert told.holds == ["A018"]
    assert not told.roll("A018").guessed


def test_a_name_made_of_card_and_time_is_not_a_guess() -> None:
    assert not story("S-014").loaded("A", at="09:00").roll("S-014/2026-03-02/09:00").guessed
