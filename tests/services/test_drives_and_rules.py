"""What is asked before: which rolls would fall below the rule."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE, Harbour
from tracker.domain.errors import UnknownLabel
from tracker.domain.rule import BackupRule
from tracker.services import acts_camera as camera
from tracker.services import acts_card as cards
from tracker.services import acts_day as day
from tracker.services import acts_drive as drives


@pytest.fixture
def shot(harbour: Harbour) -> Harbour:
    """S-014 is on RAID and SHUTTLE, S-015 on RAID only; both are out of the camera."""
    for label in ("S-014", "S-015"):
        camera.swap(harbour.service, LEE, label, "A")
        harbour.clock.wait(30)
    camera.pull(harbour.service, LEE, "S-015")
    harbour.checked("S-014", "RAID", "SHUTTLE")
    harbour.checked("S-015", "RAID")
    return harbour


def test_emptying_a_drive_names_the_rolls_that_fall(shot: Harbour) -> None:
    before = shot.count()
    assert drives.would_fall_below(shot.service, "SHUTTLE") == ["A001"]
    assert drives.would_fall_below(shot.service, "VAULT") == []
    assert (shot.count(), shot.status("S-014")) == (before, "backed up")
    assert shot.agrees()
    drives.empty_drive(shot.service, KIM, "SHUTTLE", text="to the rental house")
    assert shot.status("S-014") == "exposed"
    assert shot.agrees()


def test_a_drive_that_nobody_knows_is_not_tried(harbour: Harbour) -> None:
    with pytest.raises(UnknownLabel):
        drives.would_fall_below(harbour.service, "RIAD")


def test_another_rule_says_beforehand_what_it_changes(shot: Harbour) -> None:
    assert day.would_change(shot.service, BackupRule(1)) == ([], ["A002"])
    assert day.would_change(shot.service, BackupRule(2, off_site=1)) == (["A001"], [])
    assert day.would_change(shot.service, BackupRule(1), rolls="proxy") == ([], [])
    assert (shot.status("S-014"), shot.status("S-015")) == ("backed up", "exposed")
    day.set_rule(shot.service, KIM, BackupRule(1))
    assert shot.status("S-015") == "backed up"
    assert shot.agrees()


@pytest.mark.parametrize("act", [drives.fail_drive, drives.lose_drive, drives.give_back_drive])
def test_a_drive_that_is_gone_takes_its_copies_along(shot: Harbour, act: object) -> None:
    assert callable(act)
    act(shot.service, KIM, "RAID")
    assert shot.status("S-014") == "exposed"
    assert shot.agrees()


def test_a_lost_drive_that_was_found_counts_again(shot: Harbour) -> None:
    drives.lose_drive(shot.service, KIM, "RAID")
    drives.find_drive(shot.service, KIM, "RAID")
    assert shot.status("S-014") == "backed up"
    assert shot.agrees()


def test_counting_says_what_is_not_there_and_what_should_not_be(shot: Harbour) -> None:
    service = shot.service
    cards.hand_over(service, LEE, ["S-014", "S-015"], "Kim", "cart")
    counted = day.count(service, KIM, ["S-014", "S-016", "X-1", "S-014"], place="cart")
    assert (counted.not_found, counted.unexpected) == (("S-015",), ("S-016", "X-1"))
    (fact,) = counted.logged.new
    assert (fact.event, fact.by) == ("counted", "kim")


def test_a_card_in_a_camera_is_not_looked_for(shot: Harbour) -> None:
    camera.swap(shot.service, LEE, "S-016", "A")
    cards.report_missing(shot.service, LEE, "S-015")
    assert day.count(shot.service, KIM, ["S-014"]).not_found == ()
    assert day.count(shot.service, KIM, [], place="blue").not_found == ("S-014",)
