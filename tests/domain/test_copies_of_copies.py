"""A copy made from a drive, not from the card: as good as what it was made from."""

from __future__ import annotations

import pytest

from tests.stories import Story, story


def copied_on(level: str | None = "checksummed") -> Story:
    """The RAID has A001 from the card; the SHUTTLE gets it from the RAID."""
    told = story("S-014").shot("A001").finished("RAID")
    if level is not None:
        told.checked("RAID", level)
    return told.finished("SHUTTLE", made_from="RAID").checked("SHUTTLE")


def test_a_copy_made_from_a_good_copy_counts() -> None:
    assert copied_on().stands == ("backed up", [])


@pytest.mark.parametrize("level", [None, "claimed", "listed"])
def test_a_copy_never_stands_above_the_level_of_its_parent(level: str | None) -> None:
    assert copied_on(level).checked("VAULT").stands == ("copied", [])


def test_a_copy_of_a_copy_is_as_good_as_its_parent_becomes() -> None:
    told = copied_on(None)
    assert told.stands == ("copied", [])
    assert told.checked("RAID").stands == ("backed up", [])


def test_a_copy_of_a_copy_is_claimed_again_while_its_parent_is() -> None:
    """The parent is finished once more: it goes on, and is claimed until it is checked again."""
    told = copied_on().finished("RAID", roll="A001")
    assert told.stands == ("copied", [])
    assert told.checked("RAID").stands == ("backed up", [])


def test_a_copy_of_a_good_copy_must_be_checked_itself() -> None:
    told = story("S-014").shot("A001").checked("RAID").finished("SHUTTLE", made_from="RAID")
    assert told.stands == ("copied", [])


def test_a_copy_of_a_copy_of_a_copy_is_no_better_than_the_first() -> None:
    told = copied_on("listed").finished("VAULT", made_from="SHUTTLE").checked("VAULT")
    assert told.stands == ("copied", [])
    assert told.checked("RAID").stands == ("backed up", [])


def test_a_copy_made_from_a_drive_that_has_none_does_not_count() -> None:
    told = story("S-014").shot("A001").checked("RAID")
    told.finished("SHUTTLE", made_from="VAULT").checked("SHUTTLE")
    assert told.stands == ("exposed", [])


def test_a_copy_made_from_its_own_drive_does_not_count() -> None:
    told = story("S-014").shot("A001").checked("RAID").checked("SHUTTLE")
    told.finished("SHUTTLE", roll="A001", made_from="SHUTTLE").checked("SHUTTLE")
    assert told.stands == ("exposed", [])


def test_the_parent_must_be_finished_when_the_child_is() -> None:
    """It is finished a moment later: the child does not count all the same."""
    told = story("S-014").shot("A001").started("RAID")
    told.finished("SHUTTLE", roll="A001", made_from="RAID").checked("SHUTTLE")
    told.finished("RAID").checked("RAID")
    assert told.stands == ("exposed", [])


def test_the_parent_may_be_finished_after_the_child_was_begun() -> None:
    told = story("S-014").shot("A001").started("RAID").started("SHUTTLE", made_from="RAID")
    told.finished("RAID").checked("RAID").finished("SHUTTLE", made_from="RAID").checked("SHUTTLE")
    assert told.stands == ("backed up", [])


def test_a_copy_is_made_from_what_its_start_said() -> None:
    """A finish that does not say goes on with its attempt: from the VAULT, which has nothing."""
    told = story("S-014").shot("A001").checked("RAID")
    told.started("SHUTTLE", made_from="VAULT").finished("SHUTTLE").checked("SHUTTLE")
    assert told.stands == ("exposed", [])


def test_when_the_parent_proves_short_the_child_does_not_count() -> None:
    told = copied_on().failed("RAID", "short", roll="A001").checked("VAULT")
    assert told.stands == ("exposed", [("copy_short", "A001")])
    told.finished("RAID").checked("RAID")
    assert told.stands == ("backed up", [("copy_short", "A001")])


def test_when_the_parent_differs_the_child_does_not_count() -> None:
    told = copied_on().failed("RAID", "differs", roll="A001").checked("VAULT")
    assert told.stands == ("exposed", [("copy_differs", "A001")])


def test_when_the_parent_is_short_by_its_figures_the_child_does_not_count() -> None:
    told = story("S-014").shot("A001", gb=480).finished("RAID", gb=400).checked("RAID")
    told.finished("SHUTTLE", made_from="RAID").checked("SHUTTLE").checked("VAULT")
    assert told.stands == ("exposed", [("copy_short", "A001")])


def test_when_the_parent_is_voided_the_child_does_not_count() -> None:
    told = copied_on().checked("VAULT").voids("copy_finished 1").voids("copy_checked 1")
    assert told.stands == ("exposed", [])


@pytest.mark.parametrize(
    "lost", [Story.copy_lost, Story.drive_lost, Story.drive_failed, Story.drive_emptied]
)
def test_the_loss_of_the_parent_changes_nothing_for_the_child(lost) -> None:
    told = copied_on().checked("VAULT")
    lost(told, "RAID")
    assert told.stands == ("backed up", [])


def test_the_second_copy_may_be_made_from_the_first_after_the_card_was_wiped() -> None:
    told = story("S-014").shot("A001").checked("RAID").formatted("camera", "A")
    assert told.below == ["A001"]
    told.finished("SHUTTLE", roll="A001", made_from="RAID").checked("SHUTTLE")
    assert told.below == []
    assert told.stands == ("ready", [("formatted_uncovered", "A001")])


def test_a_copy_made_from_another_partition_of_its_own_enclosure_does_not_count() -> None:
    """They are one drive: it stands or falls with what it was made from."""
    told = story("S-014").shot("A001").checked("SHUTTLE")
    for drive in ("TOWER-1", "TOWER-2"):
        told.drive_registered(drive, "hdd", enclosure="TOWER")
    told.finished("TOWER-1").checked("TOWER-1")
    told.finished("TOWER-2", roll="A001", made_from="TOWER-1").checked("TOWER-2")
    assert told.stands == ("backed up", [])
    assert told.copy_lost("TOWER-1").stands == ("exposed", [])


def test_a_finish_that_goes_on_with_a_copy_from_a_drive_does_not_find_a_missing_card() -> None:
    told = story("S-014").shot("A001").checked("RAID").reported_missing()
    told.started("SHUTTLE", made_from="RAID").finished("SHUTTLE")
    assert told.status == "missing"


def test_a_finish_from_the_card_finds_it() -> None:
    told = story("S-014").shot("A001").checked("RAID").reported_missing().finished("SHUTTLE")
    assert told.status == "copied"
