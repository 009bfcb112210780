"""Two taps: said to be copied to today's drives. Claimed, and no more than that."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE, Harbour
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import CopyFinished
from tracker.services import acts_camera as camera
from tracker.services import acts_copies as copies
from tracker.services import acts_drive as drives
from tracker.services.service import new_id


@pytest.fixture
def shot(harbour: Harbour) -> Harbour:
    """S-014 and S-015 are shot, S-016 is in the camera; RAID and SHUTTLE are today's drives."""
    drives.set_todays_drives(harbour.service, KIM, ["SHUTTLE", "RAID", "RAID"])
    for label in ("S-014", "S-015", "S-016"):
        camera.swap(harbour.service, LEE, label, "A")
        harbour.clock.wait(30)
    return harbour


def test_each_card_is_on_each_of_todays_drives(shot: Harbour) -> None:
    assert drives.todays_drives(shot.service) == ["RAID", "SHUTTLE"]
    done = copies.offloaded(shot.service, LEE, ["S-014", "S-015", "S-014"])
    assert [(f.card, f.drive) for f in done.new if isinstance(f, CopyFinished)] == [
        ("S-014", "RAID"),
        ("S-014", "SHUTTLE"),
        ("S-015", "RAID"),
        ("S-015", "SHUTTLE"),
    ]
    assert done.notices == [
        "S-014 is said to be copied to RAID, SHUTTLE, not checked: leave the tape on.",
        "S-015 is said to be copied to RAID, SHUTTLE, not checked: leave the tape on.",
    ]
    assert (shot.status("S-014"), shot.status("S-016")) == ("copied", "loaded")


def test_without_drives_for_today_nothing_is_said(harbour: Harbour) -> None:
    with pytest.raises(copies.NoDrivesToday, match="set them first"):
        copies.offloaded(harbour.service, LEE, ["S-014"])


def test_a_drive_that_nobody_registered_takes_no_copies(harbour: Harbour) -> None:
    with pytest.raises(UnknownLabel) as unknown:
        drives.set_todays_drives(harbour.service, KIM, ["RAID", "SHUTTEL"])
    assert unknown.value.nearest == ("SHUTTLE",)
    assert drives.todays_drives(harbour.service) == []


def test_a_copy_that_was_checked_keeps_its_check(shot: Harbour) -> None:
    shot.checked("S-014", "RAID")
    done = copies.offloaded(shot.service, LEE, ["S-014"])
    assert [f.drive for f in done.new if isinstance(f, CopyFinished)] == ["SHUTTLE"]
    shot.checked("S-014", "SHUTTLE")
    done = copies.offloaded(shot.service, LEE, ["S-014"])
    assert (done.new, done.notices) == ([], ["S-014 is backed up."])
    assert shot.agrees()


def test_a_card_that_nobody_pulled_is_out_of_the_camera_then(shot: Harbour) -> None:
    copies.offloaded(shot.service, LEE, ["S-016"])
    assert shot.status("S-016") == "copied"
    assert shot.mishaps("S-016") == [("pull_missing", "A003")]


def test_the_same_tap_twice_is_one(shot: Harbour) -> None:
    tap = new_id()
    copies.offloaded(shot.service, LEE, ["S-014"], tap=tap)
    before = shot.count()
    shot.clock.wait(2)
    drives.set_todays_drives(shot.service, KIM, ["VAULT"])
    assert copies.offloaded(shot.service, LEE, ["S-014"], tap=tap).again == [tap]
    assert shot.count() == before


def test_an_unknown_card_among_others_takes_none_of_them(shot: Harbour) -> None:
    before = shot.count()
    with pytest.raises(UnknownLabel):
        copies.offloaded(shot.service, LEE, ["S-014", "S-041"])
    assert (shot.count(), shot.status("S-014")) == (before, "exposed")
