"""Leave to format a card, in the camera."""

from __future__ import annotations

import pytest

from tests.stories import Story, story


def cleared() -> Story:
    return story("S-014").shot("A001").backed_up().cleared()


def test_a_card_on_which_everything_is_covered_may_be_cleared() -> None:
    told = story("S-014").shot("A001").backed_up()
    assert told.stands == ("backed up", [])
    assert told.cleared().stands == ("cleared", [])


def test_a_cleared_card_is_formatted_without_a_mishap() -> None:
    assert cleared().loaded("B", "B003", formatted=True).stands == ("loaded", [])


def test_a_clearing_that_the_facts_do_not_support_never_counts() -> None:
    """Not when it is given, and not when the card is covered later."""
    told = story("S-014").shot("A001").checked("RAID").cleared()
    assert told.stands == ("exposed", [("cleared_uncovered", None)])
    assert told.checked("SHUTTLE").stands == ("backed up", [("cleared_uncovered", None)])
    told.formatted("camera", "A")
    assert told.stands == ("ready", [("cleared_uncovered", None), ("formatted_uncleared", None)])


def test_a_clearing_while_the_card_is_in_the_camera_is_not_supported() -> None:
    told = cleared().loaded("B", "B003").cleared()
    assert told.stands == ("loaded", [("cleared_uncovered", None)])


def test_a_clearing_falls_when_a_roll_is_not_covered_any_more_and_stands_again() -> None:
    told = cleared().drive_lost("RAID")
    assert told.stands == ("exposed", [])
    assert told.drive_found("RAID").stands == ("cleared", [])


def test_a_clearing_stands_again_when_another_copy_covers_the_roll() -> None:
    told = cleared().drive_failed("RAID").finished("VAULT").checked("VAULT")
    assert told.stands == ("cleared", [])


def test_a_card_wiped_while_its_clearing_was_down_was_wiped_uncovered() -> None:
    told = cleared().drive_failed("RAID").formatted("camera", "A")
    assert told.stands == ("ready", [("formatted_uncovered", "A001")])


@pytest.mark.parametrize("gb", [None, 0, 310])
def test_a_roll_closed_later_that_owes_ends_the_clearing(gb: float | None) -> None:
    """It was for what the card held then: the new roll needs its own, when it is covered."""
    told = cleared().loaded("B", "B003").pulled(gb=gb)
    assert told.stands == ("exposed", [])
    assert told.backed_up().stands == ("backed up", [])


def test_a_roll_closed_later_that_owes_nothing_leaves_the_clearing() -> None:
    told = cleared().loaded("B", "B003").pulled(gb=0, measured=True)
    assert told.stands == ("cleared", [])


def test_a_roll_closed_by_implication_ends_the_clearing() -> None:
    told = cleared().loaded("B", "B003").handed_over("cart")
    assert told.stands == ("exposed", [("pull_missing", "B003")])


def test_a_roll_that_was_resumed_ends_the_clearing() -> None:
    told = cleared().loaded("A", "A001").pulled(gb=700).backed_up()
    assert told.stands == ("backed up", [])


def test_a_clearing_ended_does_not_come_back_when_the_new_roll_is_written_off() -> None:
    told = cleared().loaded("B", "B003").pulled(gb=1).written_off("B003")
    assert told.stands == ("backed up", [])


def test_a_clearing_withdrawn_is_over() -> None:
    told = cleared().clearing_withdrawn()
    assert told.stands == ("backed up", [])
    assert told.cleared().stands == ("cleared", [])


def test_in_hindsight_a_clearing_was_not_supported() -> None:
    """The check of a copy is voided after the card was cleared and wiped."""
    told = cleared().loaded("B", "B003", formatted=True).voids("copy_checked 2")
    assert told.stands == (
        "loaded",
        [
            ("cleared_uncovered", None),
            ("formatted_uncovered", "A001"),
            ("loaded_uncovered", "A001"),
        ],
    )


def test_in_hindsight_there_was_no_clearing() -> None:
    told = cleared().loaded("B", "B003", formatted=True).voids("cleared 1")
    assert told.stands == ("loaded", [("formatted_uncleared", None)])


def test_a_clearing_covers_every_roll_on_the_card() -> None:
    told = story("S-014").shot("A001").backed_up().loaded("B", "B003").pulled(gb=1)
    told.cleared()
    assert told.stands == ("exposed", [("cleared_uncovered", None)])
    told.backed_up().cleared().drive_lost("RAID")
    assert told.stands == ("exposed", [("cleared_uncovered", None)])
    assert told.uncovered == ["A001", "B003"]


def test_a_card_that_holds_nothing_may_be_cleared() -> None:
    told = story("S-014").formatted("camera", "A").cleared()
    assert told.stands == ("ready", [])
