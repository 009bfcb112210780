"""One roll on one drive: started, finished, checked, failed, lost. And which copies count."""

from __future__ import annotations

import pytest

from tests.stories import Story, story


def one_good() -> Story:
    """Roll A001 has one good copy, on the SHUTTLE; it needs another."""
    return story("S-014").shot("A001").finished("SHUTTLE").checked("SHUTTLE")


def test_a_copy_that_is_begun_does_not_count() -> None:
    assert one_good().started("RAID").stands == ("copying", [])


def test_a_copy_that_is_finished_is_claimed() -> None:
    """Somebody says that it is good: its level is still wanting."""
    told = one_good().finished("RAID")
    assert told.stands == ("copied", [])
    assert told.uncovered == ["A001"]


def test_a_copy_that_is_finished_and_checked_counts() -> None:
    assert one_good().finished("RAID").checked("RAID").stands == ("backed up", [])


@pytest.mark.parametrize(
    ("level", "status"),
    [
        ("claimed", "copied"),
        ("listed", "copied"),
        ("checksummed", "backed up"),
        ("reread", "backed up"),
    ],
)
def test_a_copy_counts_when_its_level_reaches_that_of_the_rule(level, status: str) -> None:
    assert one_good().finished("RAID").checked("RAID", level).stands == (status, [])


def test_a_lower_check_does_not_take_a_higher_one_back() -> None:
    told = one_good().checked("RAID", "reread").checked("RAID", "listed")
    assert told.stands == ("backed up", [])


def test_a_check_without_a_finish_counts_as_one() -> None:
    assert one_good().checked("RAID").stands == ("backed up", [])


def test_a_check_without_a_finish_ends_the_attempt() -> None:
    assert one_good().started("RAID").checked("RAID").stands == ("backed up", [])


def test_a_second_finish_on_the_same_drive_is_claimed_until_checked_again() -> None:
    told = one_good().checked("RAID").finished("RAID", roll="A001")
    assert told.stands == ("copied", [])
    assert told.checked("RAID").stands == ("backed up", [])


def test_two_copies_on_one_drive_are_one() -> None:
    told = story("S-014").shot("A001").finished("RAID").checked("RAID")
    assert told.started("RAID").finished("RAID").checked("RAID").stands == ("exposed", [])


def test_partitions_of_one_enclosure_are_one_drive() -> None:
    told = story("S-014").shot("A001")
    told.drive_registered("TOWER-1", "hdd", enclosure="TOWER")
    told.drive_registered("TOWER-2", "hdd", enclosure="TOWER")
    told.finished("TOWER-1").checked("TOWER-1").finished("TOWER-2").checked("TOWER-2")
    assert told.stands == ("exposed", [])
    assert told.finished("RAID").checked("RAID").stands == ("backed up", [])


def test_partitions_of_two_enclosures_are_two_drives() -> None:
    told = story("S-014").shot("A001")
    told.drive_registered("TOWER-1", "hdd", enclosure="TOWER")
    told.drive_registered("CASE-1", "hdd", enclosure="CASE")
    told.checked("TOWER-1").checked("CASE-1")
    assert told.stands == ("backed up", [])


@pytest.mark.parametrize("reason", ["interrupted", "other"])
def test_a_copy_that_failed_does_not_count(reason: str) -> None:
    assert one_good().started("RAID").failed("RAID", reason).stands == ("exposed", [])


def test_a_failure_after_the_finish_ends_the_copy() -> None:
    assert one_good().checked("RAID").failed("RAID").stands == ("exposed", [])


@pytest.mark.parametrize("again", [Story.finished, Story.checked])
def test_after_a_failure_a_finish_or_a_check_opens_a_new_copy(again) -> None:
    told = again(one_good().checked("RAID").failed("RAID"), "RAID", roll="A001")
    assert told.checked("RAID").stands == ("backed up", [])


@pytest.mark.parametrize("again", [Story.finished, Story.checked])
def test_after_a_loss_a_finish_or_a_check_opens_a_new_copy(again) -> None:
    told = again(one_good().checked("RAID").copy_lost("RAID"), "RAID", roll="A001")
    assert told.checked("RAID").stands == ("backed up", [])


@pytest.mark.parametrize("again", [Story.finished, Story.checked])
def test_after_its_drive_was_emptied_a_finish_or_a_check_opens_a_new_copy(again) -> None:
    told = again(one_good().checked("RAID").drive_emptied("RAID"), "RAID", roll="A001")
    assert told.checked("RAID").stands == ("backed up", [])


def test_what_was_checked_before_a_loss_says_nothing_of_the_new_copy() -> None:
    told = one_good().checked("RAID").copy_lost("RAID").finished("RAID")
    assert told.stands == ("copied", [])


@pytest.mark.parametrize("reason", ["short", "differs"])
def test_after_a_copy_proved_bad_a_check_alone_does_nothing(reason: str) -> None:
    told = one_good().finished("RAID").failed("RAID", reason).checked("RAID", roll="A001")
    assert told.stands == ("exposed", [(f"copy_{reason}", "A001")])


@pytest.mark.parametrize("reason", ["short", "differs"])
@pytest.mark.parametrize("again", [Story.started, Story.finished])
def test_after_a_copy_proved_bad_a_start_or_a_finish_opens_a_new_one(again, reason) -> None:
    told = one_good().finished("RAID").failed("RAID", reason)
    told = again(told, "RAID", roll="A001").checked("RAID")
    assert told.stands == ("backed up", [(f"copy_{reason}", "A001")])


def test_a_copy_that_differs_does_not_count_and_is_a_mishap() -> None:
    told = one_good().checked("RAID").failed("RAID", "differs")
    assert told.stands == ("exposed", [("copy_differs", "A001")])


def test_a_start_over_a_copy_that_counts_does_not_end_it() -> None:
    assert one_good().checked("RAID").started("RAID", roll="A001").stands == ("backed up", [])


def test_a_copy_made_over_another_replaces_it_when_it_is_finished() -> None:
    told = one_good().checked("RAID").started("RAID", roll="A001").finished("RAID")
    assert told.stands == ("copied", [])


def test_a_copy_made_over_another_takes_it_along_when_it_fails() -> None:
    told = one_good().checked("RAID").started("RAID", roll="A001").failed("RAID")
    assert told.stands == ("exposed", [])


def test_a_lost_copy_does_not_count() -> None:
    assert one_good().checked("RAID").copy_lost("RAID", roll="A001").stands == ("exposed", [])


def test_an_attempt_that_is_lost_is_not_under_way() -> None:
    assert one_good().started("RAID").copy_lost("RAID").stands == ("exposed", [])


def test_the_card_itself_is_not_a_copy() -> None:
    assert one_good().stands == ("exposed", [])


@pytest.mark.parametrize("reason", ["interrupted", "unreadable", "short", "differs", "other"])
def test_only_an_unreadable_card_is_set_aside(reason: str) -> None:
    told = one_good().started("RAID").failed("RAID", reason)
    assert told.status == ("set aside" if reason == "unreadable" else "exposed")


def test_a_card_that_cannot_be_read_is_set_aside_at_once() -> None:
    told = one_good().started("RAID").failed("RAID", "unreadable")
    assert told.stands == ("set aside", [("card_unreadable", "A001")])
    assert told.uncovered == ["A001"]


def test_a_drive_that_cannot_be_read_says_nothing_of_the_card() -> None:
    told = one_good().started("RAID", made_from="SHUTTLE").failed("RAID", "unreadable")
    assert told.stands == ("exposed", [])
