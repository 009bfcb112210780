"""The commonest act: a new card goes in, formatted, and the one that was in comes out."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE, Harbour
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import Loaded
from tracker.services import acts_camera as camera
from tracker.services.service import new_id


def test_one_tap_pulls_the_old_card_and_loads_the_new_one(harbour: Harbour) -> None:
    service = harbour.service
    camera.load(service, LEE, "S-014", "A", formatted=True)
    harbour.clock.wait(45)
    assert camera.comes_out(service, "S-015", "A") == "S-014"
    done = camera.swap(service, LEE, "S-015", "A")
    assert [fact.event for fact in done.new] == ["pulled", "loaded"]
    assert (harbour.status("S-014"), harbour.holds("S-014")) == ("exposed", "A001")
    assert (harbour.status("S-015"), harbour.holds("S-015")) == ("loaded", "A002")
    loaded = done.new[1]
    assert isinstance(loaded, Loaded)
    assert (loaded.formatted, loaded.guessed_roll) == (True, "A002")
    assert harbour.agrees()


def test_the_same_tap_twice_pulls_nothing_more(harbour: Harbour) -> None:
    service, tap = harbour.service, new_id()
    camera.swap(service, LEE, "S-014", "A")
    camera.swap(service, LEE, "S-015", "A", tap=tap)
    harbour.clock.wait(1)
    camera.swap(service, LEE, "S-016", "A")
    before = harbour.count()
    again = camera.swap(service, LEE, "S-015", "A", tap=tap)
    assert (again.new, again.again, harbour.count()) == ([], [tap], before)
    assert harbour.status("S-016") == "loaded"


def test_a_card_that_is_in_already_is_said_twice(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "A")
    assert camera.comes_out(service, "S-014", "A") is None
    camera.swap(service, LEE, "S-014", "A")
    camera.swap(service, LEE, "S-015", "A")
    assert (harbour.holds("S-014"), harbour.holds("S-015")) == ("A001", "A002")
    assert harbour.mishaps("S-014") == []


def test_with_two_slots_the_card_of_that_slot_comes_out(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "B", slot=1)
    done = camera.swap(service, LEE, "S-015", "B", slot=2, loaded_as="mirror")
    assert [fact.event for fact in done.new] == ["loaded"]
    assert harbour.holds("S-015") == "B001"
    assert camera.comes_out(service, "S-016", "B", slot=1) == "S-014"
    assert camera.comes_out(service, "S-016", "B", slot=2) == "S-015"
    camera.swap(service, LEE, "S-016", "B", slot=2, loaded_as="mirror")
    assert [harbour.status(s) for s in ("S-014", "S-015", "S-016")] == [
        "loaded",
        "exposed",
        "loaded",
    ]
    assert harbour.agrees()


def test_a_slot_that_nobody_named_comes_out_only_if_no_other_is_free(harbour: Harbour) -> None:
    service = harbour.service
    camera.load(service, LEE, "S-014", "B")
    assert camera.comes_out(service, "S-016", "B", slot=2) is None
    harbour.clock.wait(1)
    camera.load(service, LEE, "S-015", "B", slot=1)
    assert camera.comes_out(service, "S-016", "B", slot=2) == "S-014"


def test_a_card_in_doubt_stays_in_doubt(harbour: Harbour) -> None:
    service = harbour.service
    for label in ("S-014", "S-015"):
        camera.load(service, LEE, label, "A", formatted=True)
        harbour.clock.wait()
    assert camera.comes_out(service, "S-016", "A") == "S-015"
    camera.swap(service, LEE, "S-016", "A")
    assert (harbour.status("S-014"), harbour.status("S-015")) == ("loaded", "exposed")


def test_nothing_is_pulled_if_the_new_card_is_unknown(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "A")
    before = harbour.count()
    with pytest.raises(UnknownLabel) as unknown:
        camera.swap(service, LEE, "S-105", "A")
    assert "S-015" in unknown.value.nearest
    assert (harbour.count(), harbour.status("S-014")) == (before, "loaded")


def test_a_camera_that_nobody_described_takes_no_card(harbour: Harbour) -> None:
    for act in (camera.load, camera.swap):
        with pytest.raises(UnknownLabel, match="no camera has the label 'C'"):
            act(harbour.service, LEE, "S-014", "C")
    with pytest.raises(UnknownLabel, match="no camera has the label 'C'"):
        camera.format_in_camera(harbour.service, KIM, "S-014", camera="C")
