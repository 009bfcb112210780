"""What happens to a drive happens to every copy on it."""

from __future__ import annotations

import pytest

from tests.stories import Story, story
from tracker.domain.drives import DriveState


def backed_up() -> Story:
    return story("S-014").shot("A001").backed_up()


def drive(told: Story, label: str = "RAID") -> DriveState:
    return told.production.context.drives[label].states[-1]


@pytest.mark.parametrize(
    "gone", [Story.drive_failed, Story.drive_lost, Story.drive_returned, Story.drive_emptied]
)
def test_nothing_counts_on_a_drive_that_is_gone_or_empty(gone) -> None:
    told = backed_up()
    gone(told, "RAID")
    assert told.stands == ("exposed", [])
    assert told.below == ["A001"]


def test_a_drive_that_is_found_has_its_copies_still() -> None:
    told = backed_up().cleared().drive_lost("RAID")
    assert told.stands == ("exposed", [])
    assert told.drive_found("RAID").stands == ("cleared", [])


@pytest.mark.parametrize("gone", [Story.drive_failed, Story.drive_returned, Story.drive_emptied])
def test_finding_a_drive_ends_a_loss_and_nothing_else(gone) -> None:
    told = backed_up()
    gone(told, "RAID")
    assert told.drive_found("RAID").stands == ("exposed", [])


def test_a_drive_that_is_emptied_can_take_copies_again() -> None:
    told = backed_up().drive_emptied("RAID").finished("RAID").checked("RAID")
    assert told.stands == ("backed up", [])


@pytest.mark.parametrize("gone", [Story.drive_failed, Story.drive_lost, Story.drive_returned])
def test_a_copy_made_on_a_drive_that_is_gone_does_not_count(gone) -> None:
    told = story("S-014").shot("A001").checked("SHUTTLE")
    gone(told, "RAID")
    assert told.finished("RAID").checked("RAID").stands == ("exposed", [])


def test_a_copy_made_on_a_lost_drive_counts_once_it_is_found() -> None:
    told = story("S-014").shot("A001").checked("SHUTTLE").drive_lost("RAID")
    told.finished("RAID").checked("RAID").drive_found("RAID")
    assert told.stands == ("backed up", [])


def test_emptying_ends_what_was_finished_before_and_nothing_after() -> None:
    """A copy of 12:00 on a drive that was emptied at 11:00, which is logged only later."""
    told = story("S-014").shot("A001").checked("SHUTTLE")
    told.finished("RAID", at="12:00").checked("RAID").late("11:00").drive_emptied("RAID")
    assert told.stands == ("backed up", [])
    told.drive_emptied("RAID")
    assert told.stands == ("exposed", [])


def test_a_drive_that_is_gone_is_never_a_mishap_of_the_card_it_was_needed_for() -> None:
    assert backed_up().cleared().drive_failed("RAID").stands == ("exposed", [])


def test_a_drive_lost_after_the_card_was_wiped_is_a_mishap_while_it_is_lost() -> None:
    told = backed_up().cleared().formatted("camera", "A").drive_lost("RAID")
    assert told.stands == ("ready", [("covered_no_more", "A001")])
    assert told.below == ["A001"]
    assert told.drive_found("RAID").stands == ("ready", [])


def test_a_drive_lost_and_found_before_the_format_changes_nothing() -> None:
    told = backed_up().drive_lost("RAID").drive_found("RAID").cleared().formatted("camera", "A")
    assert told.stands == ("ready", [])


def test_a_drive_lost_before_the_format_and_found_after_it() -> None:
    told = backed_up().cleared().drive_lost("RAID").formatted("camera", "A").drive_found("RAID")
    assert told.stands == ("ready", [("formatted_uncovered", "A001")])
    assert told.below == []


def test_a_drive_is_where_it_was_moved_last() -> None:
    told = story("S-014").drive_moved("RAID", "in transit").drive_moved("RAID", "lab")
    assert drive(told).place == "lab"
    assert drive(told, "VAULT").place == "off site"


def test_a_drive_has_its_kind_from_the_start() -> None:
    """Registered after the copies were made, as an inventory often is."""
    told = story("S-014").shot("A001").checked("RAID").finished("LATE").checked("LATE")
    told.drive_registered("LATE", "hdd")
    assert told.stands == ("backed up", [])


def test_a_fact_of_a_drive_can_be_voided() -> None:
    told = backed_up().drive_emptied("RAID").voids("drive_emptied 1", drive="RAID")
    assert told.stands == ("backed up", [])


def test_copies_on_a_drive_returned_are_gone_with_it() -> None:
    """Whoever has the drive now may write over it: it is ended, not only away."""
    told = backed_up().drive_returned("RAID")
    assert drive(told).emptied is not None
    assert not drive(told).usable
