"""Which rolls a copy fact is of: those it names, or those that the rules say."""

from __future__ import annotations

import pytest

from tests.stories import Story, story


def two_rolls() -> Story:
    """The card holds A001 and A002, neither of them copied."""
    told = story("S-014").shot("A001", gb=100).loaded("A", "A002").pulled(gb=200)
    return told.settled("loaded 2", "loaded_uncovered")


def one_of_two() -> Story:
    """The card holds A001, covered, and A002, not copied."""
    told = story("S-014").shot("A001", gb=100).backed_up()
    return told.loaded("A", "A002").pulled(gb=200)


def drives_of(told: Story, roll: str) -> list[str]:
    """Where a finished copy of a roll stands."""
    return sorted(finish.drive for finish in told.roll(roll).standing())


def test_a_start_without_a_roll_means_every_roll_that_is_not_covered() -> None:
    assert two_rolls().started("RAID").stands == ("copying", [])
    told = one_of_two().started("VAULT").finished("VAULT")
    assert drives_of(told, "A001") == ["RAID", "SHUTTLE"]
    assert drives_of(told, "A002") == ["VAULT"]


def test_a_start_without_a_roll_means_every_roll_that_owes_when_all_are_covered() -> None:
    told = one_of_two().backed_up().started("VAULT").finished("VAULT")
    assert drives_of(told, "A001") == drives_of(told, "A002") == ["RAID", "SHUTTLE", "VAULT"]


def test_a_start_without_a_roll_never_means_one_that_owes_nothing() -> None:
    told = two_rolls().written_off("A001").backed_up().started("VAULT").finished("VAULT")
    assert drives_of(told, "A001") == []
    assert drives_of(told, "A002") == ["RAID", "SHUTTLE", "VAULT"]


def test_a_start_that_names_a_roll_means_that_one() -> None:
    told = two_rolls().started("RAID", roll="A002")
    assert told.stands == ("exposed", [])
    assert drives_of(told.finished("RAID"), "A001") == []


def test_a_finish_without_a_roll_is_of_the_attempt_under_way_there() -> None:
    told = two_rolls().started("RAID", roll="A001").finished("RAID")
    assert drives_of(told, "A001") == ["RAID"]
    assert drives_of(told, "A002") == []


def test_a_finish_without_a_roll_and_without_an_attempt_is_of_what_is_not_covered() -> None:
    told = one_of_two().finished("RAID")
    assert drives_of(told, "A002") == ["RAID"]
    assert two_rolls().finished("RAID").checked("RAID").backed_up().status == "backed up"


def test_a_finish_after_a_refill_is_of_the_new_roll() -> None:
    """The attempt of A001 on that drive is over: it is not continued."""
    told = story("S-014").shot("A001").backed_up().cleared().shot("A002")
    told.finished("RAID")
    assert drives_of(told, "A002") == ["RAID"]
    assert told.stands == ("exposed", [])


def test_a_check_without_a_roll_is_of_the_attempt_under_way_there() -> None:
    told = two_rolls().started("RAID", roll="A001").checked("RAID")
    assert drives_of(told, "A001") == ["RAID"]
    assert drives_of(told, "A002") == []


def test_a_check_without_a_roll_is_else_of_the_last_attempt_there() -> None:
    told = two_rolls().finished("RAID", roll="A001").finished("SHUTTLE", roll="A001")
    told.checked("RAID").checked("SHUTTLE")
    assert told.stands == ("exposed", [])
    assert told.uncovered == ["A002"]


def test_a_check_without_a_roll_where_nothing_was_copied_is_of_what_is_not_covered() -> None:
    told = one_of_two().checked("VAULT")
    assert drives_of(told, "A001") == ["RAID", "SHUTTLE"]
    assert drives_of(told, "A002") == ["VAULT"]


def test_a_failure_without_a_roll_is_of_the_attempt_under_way_there() -> None:
    told = two_rolls().started("RAID", roll="A001").failed("RAID", "differs")
    assert told.stands == ("exposed", [("copy_differs", "A001")])


def test_a_failure_without_a_roll_is_else_of_the_last_attempt_there() -> None:
    told = one_of_two().finished("RAID").failed("RAID", "differs")
    assert told.stands == ("exposed", [("copy_differs", "A002")])
    assert told.uncovered == ["A002"]


def test_a_failure_of_an_attempt_at_several_rolls_is_of_each() -> None:
    told = two_rolls().started("RAID").failed("RAID", "differs")
    assert told.stands == ("exposed", [("copy_differs", "A001"), ("copy_differs", "A002")])


def test_a_loss_without_a_roll_is_of_every_copy_of_that_card_there() -> None:
    """Also of rolls that were wiped from the card."""
    told = one_of_two().backed_up().cleared().formatted("camera", "A")
    told.copy_lost("RAID")
    wiped = [("covered_no_more", "A001"), ("covered_no_more", "A002")]
    assert told.stands == ("ready", wiped)
    assert told.below == ["A001", "A002"]


def test_a_loss_that_names_a_roll_is_of_that_one() -> None:
    told = one_of_two().backed_up().copy_lost("RAID", roll="A001")
    assert told.stands == ("exposed", [])
    assert told.uncovered == ["A001"]


NOTHING = [("copy_of_nothing", None)]


@pytest.mark.parametrize("made", [Story.started, Story.finished, Story.checked])
def test_a_copy_of_a_card_that_holds_nothing_is_of_nothing(made) -> None:
    told = made(story("S-014").formatted("camera", "A"), "RAID")
    assert told.stands == ("ready", NOTHING)


@pytest.mark.parametrize("made", [Story.failed, Story.copy_lost])
def test_a_failure_or_a_loss_where_nothing_was_copied_is_of_nothing(made) -> None:
    assert made(story("S-014").shot("A001"), "RAID").stands == ("exposed", NOTHING)


@pytest.mark.parametrize(
    "made", [Story.started, Story.finished, Story.checked, Story.failed, Story.copy_lost]
)
def test_a_copy_of_a_roll_that_the_card_never_held_is_of_nothing(made) -> None:
    told = made(story("S-014").shot("A001"), "RAID", roll="A099")
    assert told.stands == ("exposed", NOTHING)


def test_a_loss_of_a_roll_that_has_no_copy_there_loses_nothing() -> None:
    """The roll is found, so that it is no copy of nothing."""
    assert story("S-014").shot("A001").copy_lost("VAULT", roll="A001").stands == ("exposed", [])
    covered = story("S-014").shot("A001").backed_up().copy_lost("VAULT", roll="A001")
    assert covered.stands == ("backed up", [])


def test_a_card_that_cannot_be_read_is_set_aside_though_no_roll_is_known() -> None:
    told = story("S-014").formatted("camera", "A").failed("RAID", "unreadable")
    assert told.stands == ("set aside", NOTHING)


def test_a_named_roll_may_be_one_that_the_card_held_earlier() -> None:
    told = story("S-014").shot("A001").finished("RAID").checked("RAID").loaded("B", "B003")
    told.formatted("camera", "B").finished("SHUTTLE", roll="A001", made_from="RAID")
    assert told.checked("SHUTTLE", roll="A001").below == []
    assert told.stands == (
        "loaded",
        [("formatted_uncovered", "A001"), ("loaded_uncovered", "A001")],
    )


def twice_named() -> Story:
    """Two rolls go by A001: one wiped with one copy only, and one on the card."""
    return story("S-014").shot("A001", gb=100).checked("RAID").shot("A001", gb=200, camera="B")


def test_of_two_rolls_of_one_name_the_one_opened_last_is_meant() -> None:
    told = twice_named().finished("SHUTTLE", roll="A001")
    assert [finish.drive for finish in told.state.rolls["loaded 2"].standing()] == ["SHUTTLE"]


def test_of_two_rolls_of_one_name_the_last_one_before_the_fact_is_meant() -> None:
    """The copy happened before the second load, and is logged after it."""
    told = story("S-014").shot("A001", gb=100).checked("RAID").loaded("B", "A001", at="12:00")
    told.late("11:00").checked("SHUTTLE", roll="A001")
    assert told.stands == ("loaded", [])
    first = told.state.rolls["loaded 1"]
    assert sorted(finish.drive for finish in first.standing()) == ["RAID", "SHUTTLE"]


def test_the_id_of_a_roll_decides_where_it_is_given() -> None:
    told = twice_named().finished("SHUTTLE", roll="A001", roll_id="loaded 1")
    told.checked("SHUTTLE", roll_id="loaded 1")
    drives = [finish.drive for finish in told.state.rolls["loaded 1"].standing()]
    assert sorted(drives) == ["RAID", "SHUTTLE"]
    assert told.uncovered == ["A001"]
    assert len(told.below) == 1


def test_a_roll_answers_to_every_name_it_has_had() -> None:
    told = story("S-014").shot("A001").renamed("A001", "A007").renamed("A007", "A008")
    told.checked("RAID", roll="A001").checked("SHUTTLE", roll="A007")
    assert told.stands == ("backed up", [])
    assert told.holds == ["A008"]


def test_an_attempt_that_was_lost_is_not_continued() -> None:
    told = two_rolls().started("RAID", roll="A001").copy_lost("RAID").finished("RAID")
    assert drives_of(told, "A001") == drives_of(told, "A002") == ["RAID"]


def test_an_attempt_that_was_checked_is_over() -> None:
    told = two_rolls().started("RAID", roll="A001").checked("RAID").finished("RAID")
    assert drives_of(told, "A002") == ["RAID"]


def test_an_attempt_that_failed_is_over() -> None:
    told = two_rolls().started("RAID", roll="A001").failed("RAID").finished("RAID")
    assert drives_of(told, "A001") == drives_of(told, "A002") == ["RAID"]
