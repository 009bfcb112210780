"""Names of rolls: guessed until somebody says."""

from __future__ import annotations

from tests.services.harbour import LEE, Harbour
from tracker.services import acts_back as back
from tracker.services import acts_camera as camera


def swapped(harbour: Harbour, label: str, into: str = "A", roll: str | None = None) -> str:
    harbour.clock.wait(30)
    camera.swap(harbour.service, LEE, label, into, roll=roll)
    return harbour.holds(label).split("\n")[-1]


def test_a_camera_counts_its_rolls_on(harbour: Harbour) -> None:
    assert [swapped(harbour, label) for label in ("S-014", "S-015", "S-016")] == [
        "A001",
        "A002",
        "A003",
    ]
    assert harbour.agrees()


def test_the_next_name_follows_one_that_was_given(harbour: Harbour) -> None:
    assert swapped(harbour, "S-014", roll="A017") == "A017"
    assert swapped(harbour, "S-015") == "A018"


def test_the_next_name_follows_one_that_was_corrected(harbour: Harbour) -> None:
    swapped(harbour, "S-014")
    camera.rename_roll(harbour.service, LEE, "S-014", "A001", "A041")
    assert swapped(harbour, "S-015") == "A042"


def test_a_guess_stays_unsure_until_it_is_confirmed(harbour: Harbour) -> None:
    swapped(harbour, "S-014")
    fact = harbour.facts("S-014")[-1]
    camera.confirm_name(harbour.service, LEE, "S-014", "A001")
    assert (fact.event, harbour.holds("S-014")) == ("loaded", "A001")
    assert swapped(harbour, "S-015") == "A002"


def test_a_mirror_is_called_as_its_main_card(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "B", slot=1, roll="B007")
    camera.swap(service, LEE, "S-015", "B", slot=2, loaded_as="mirror")
    assert harbour.holds("S-015") == "B007"
    harbour.clock.wait()
    camera.swap(service, LEE, "S-016", "B", slot=1)
    assert harbour.holds("S-016") == "B008"


def test_saying_twice_that_a_card_is_in_counts_nothing_on(harbour: Harbour) -> None:
    swapped(harbour, "S-014")
    camera.load(harbour.service, LEE, "S-014", "A")
    camera.load(harbour.service, LEE, "S-014", "A", roll="A001")
    assert swapped(harbour, "S-015") == "A002"


def test_a_wrong_card_that_was_taken_back_gives_its_name_back(harbour: Harbour) -> None:
    swapped(harbour, "S-014")
    swapped(harbour, "S-015")
    back.take_back_last(harbour.service, LEE)
    assert harbour.status("S-014") == "loaded"
    assert swapped(harbour, "S-016") == "A002"
    assert harbour.agrees()
