"""Nobody logs the pull, but something else says that the card is out of the camera."""

from __future__ import annotations

import pytest

from tests.stories import Story, story


def in_camera() -> Story:
    return story("S-014").loaded("A", "A005", formatted=True)


OUT = ("exposed", [("pull_missing", "A005")])


@pytest.mark.parametrize("place", ["cart", "driver", "lab", "office", "other unit", "other"])
def test_a_card_handed_over_to_anybody_but_the_camera_crew_is_out(place: str) -> None:
    assert in_camera().handed_over(place).stands == OUT


def test_a_card_handed_over_within_the_camera_crew_is_not_out() -> None:
    assert in_camera().handed_over("camera crew").stands == ("loaded", [])


def test_a_card_that_is_checked_in_is_out() -> None:
    assert in_camera().checked_in("footage").stands == OUT


def test_a_copy_begun_of_the_open_roll_says_that_the_card_is_out() -> None:
    told = in_camera().started("RAID", roll="A005")
    assert told.stands == ("copying", [("pull_missing", "A005")])


def test_a_copy_begun_that_names_no_roll_says_that_the_card_is_out() -> None:
    assert in_camera().started("RAID").stands == ("copying", [("pull_missing", "A005")])


def test_a_copy_begun_of_another_roll_says_nothing_of_the_open_one() -> None:
    """The card holds A001 as well, but what was logged is of that filling, not of this one."""
    told = story("S-014").shot("A001").loaded("A", "A005").started("RAID", roll="A001")
    assert told.stands == ("loaded", [("loaded_uncovered", "A001")])


@pytest.mark.parametrize("made", [Story.finished, Story.checked])
def test_a_copy_made_of_the_open_roll_says_that_the_card_is_out(made) -> None:
    assert made(in_camera(), "RAID", roll="A005").stands == OUT


@pytest.mark.parametrize("made", [Story.finished, Story.checked])
def test_a_copy_made_that_continues_nothing_says_that_the_card_is_out(made) -> None:
    assert made(in_camera(), "RAID").stands == OUT


@pytest.mark.parametrize("made", [Story.finished, Story.checked])
def test_a_copy_made_of_an_earlier_roll_says_nothing_of_the_open_one(made) -> None:
    told = story("S-014").shot("A001").loaded("A", "A005")
    assert made(told, "RAID", roll="A001").stands == ("loaded", [("loaded_uncovered", "A001")])


@pytest.mark.parametrize("made", [Story.finished, Story.checked])
def test_a_copy_made_that_continues_an_earlier_attempt_closes_nothing(made) -> None:
    told = story("S-014").shot("A001").started("RAID").loaded("A", "A005")
    assert made(told, "RAID").stands == ("loaded", [("loaded_uncovered", "A001")])


def test_a_check_that_continues_a_finished_copy_closes_nothing() -> None:
    told = story("S-014").shot("A001").finished("RAID").loaded("A", "A005").checked("RAID")
    assert told.stands == ("loaded", [("loaded_uncovered", "A001")])


def test_a_finish_has_nothing_to_continue_where_the_last_attempt_is_over() -> None:
    """Without an attempt under way it is a new copy, of what is not covered."""
    told = story("S-014").shot("A001").finished("RAID").loaded("A", "A005").finished("RAID")
    assert told.stands == ("exposed", [("loaded_uncovered", "A001"), ("pull_missing", "A005")])


@pytest.mark.parametrize("roll", [None, "A001"])
def test_a_copy_made_from_a_drive_says_nothing_of_where_the_card_is(roll: str | None) -> None:
    told = story("S-014").shot("A001").backed_up().loaded("A", "A005")
    told.started("VAULT", roll=roll, made_from="RAID")
    told.finished("VAULT", roll=roll, made_from="RAID")
    assert told.stands == ("loaded", [])


def test_a_copy_of_the_open_roll_from_a_drive_closes_nothing_either() -> None:
    told = in_camera().started("SHUTTLE", roll="A005", made_from="RAID")
    told.finished("SHUTTLE", roll="A005", made_from="RAID")
    assert told.stands == ("loaded", [])


def test_a_failed_or_lost_copy_closes_nothing() -> None:
    told = story("S-014").shot("A001").backed_up().loaded("A", "A005")
    assert told.failed("RAID").copy_lost("SHUTTLE").stands == ("loaded", [])


@pytest.mark.parametrize(
    "other",
    [
        Story.set_aside,
        Story.reported_missing,
        Story.retired,
        Story.cleared,
        lambda told: told.damaged(1),
        lambda told: told.noted("slate was wrong"),
        lambda told: told.renamed("A005", "A006"),
        lambda told: told.written_off("A005"),
    ],
)
def test_other_facts_leave_the_roll_open(other) -> None:
    told = in_camera()
    other(told)
    assert told.state.open_roll() is not None


def test_the_card_is_out_once_only() -> None:
    told = in_camera().handed_over("cart").handed_over("lab").checked_in("footage")
    assert told.stands == OUT


def test_a_finish_of_the_open_roll_from_a_drive_closes_nothing_without_a_start() -> None:
    told = in_camera().finished("SHUTTLE", roll="A005", made_from="RAID")
    assert told.stands == ("loaded", [])
