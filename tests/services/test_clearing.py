"""What is withheld: leave to format, and why."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE, Harbour
from tracker.services import acts_camera as camera
from tracker.services import acts_clearing as clearing
from tracker.services import acts_copies as copies
from tracker.services.errors import Refused


@pytest.fixture
def shot(harbour: Harbour) -> Harbour:
    camera.swap(harbour.service, LEE, "S-014", "A")
    harbour.clock.wait(40)
    camera.pull(harbour.service, LEE, "S-014")
    return harbour


def test_a_refusal_names_the_roll_its_copies_and_what_would_settle_it(shot: Harbour) -> None:
    shot.checked("S-014", "RAID")
    before = shot.count()
    with pytest.raises(Refused) as refused:
        clearing.clear(shot.service, KIM, "S-014")
    (reason,) = refused.value.reasons
    assert (reason.code, reason.roll) == ("copies", "A001")
    assert reason.says == "roll A001 has 1 of 2 copies that count (RAID)"
    assert reason.settles == "make 1 copy more, checksummed, each on its own drive"
    assert str(refused.value).startswith("S-014 may not be cleared: roll A001 has 1 of 2")
    assert (shot.count(), shot.status("S-014")) == (before, "exposed")


def test_copies_that_are_not_checked_are_named(shot: Harbour) -> None:
    for drive in ("RAID", "SHUTTLE"):
        copies.copy_finished(shot.service, KIM, "S-014", drive)
    with pytest.raises(Refused, match="RAID is claimed, SHUTTLE is claimed"):
        clearing.clear(shot.service, KIM, "S-014")


def test_a_card_in_the_camera_is_not_cleared(harbour: Harbour) -> None:
    camera.swap(harbour.service, LEE, "S-014", "A")
    with pytest.raises(Refused, match="it is in camera A: pull it first"):
        clearing.clear(harbour.service, KIM, "S-014")


def test_a_clearing_cannot_be_given_for_a_time_before_the_copies(shot: Harbour) -> None:
    shot.checked("S-014", "RAID", "SHUTTLE")
    with pytest.raises(Refused, match="roll A001 has no copy that counts"):
        clearing.clear(shot.service, KIM, "S-014", at=shot.clock.ago(5))
    clearing.clear(shot.service, KIM, "S-014")
    assert (shot.status("S-014"), shot.mishaps("S-014")) == ("cleared", [])


def test_a_mirror_is_cleared_by_the_copies_of_its_main_card(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "B", slot=1)
    camera.swap(service, LEE, "S-015", "B", slot=2, loaded_as="mirror")
    harbour.clock.wait(30)
    camera.pull(service, LEE, "S-014")
    camera.pull(service, LEE, "S-015")
    with pytest.raises(Refused):
        clearing.clear(service, KIM, "S-015")
    harbour.checked("S-014", "RAID", "SHUTTLE")
    harbour.clock.wait()
    clearing.clear(service, KIM, "S-015")
    assert (harbour.status("S-015"), harbour.mishaps("S-015")) == ("cleared", [])
    assert harbour.agrees()
