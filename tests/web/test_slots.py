"""A slot that a camera does not have: it is asked first, and never refused."""

from __future__ import annotations

import pytest

from tests.services.harbour import LEE
from tests.web.visitor import Crew
from tracker.domain.facts import Loaded
from tracker.services import acts_camera

BUTTON = "Log it as loaded"


def loaded(crew: Crew) -> list[Loaded]:
    return [fact for fact in crew.harbour.facts("S-014") if isinstance(fact, Loaded)]


@pytest.mark.parametrize(
    ("camera", "slot", "says"),
    [
        ("A", "99", "Camera A has one slot, and no slot 99."),
        ("A", "2", "Camera A has one slot, and no slot 2."),
        ("B", "3", "Camera B has 2 slots, counted from 1, and no slot 3."),
    ],
)
def test_it_is_asked_first_and_logged_if_it_is_said_again(
    crew: Crew, camera: str, slot: str, says: str
) -> None:
    page = crew.lee.get("/cards/S-014?act=load")
    page = crew.lee.press(page, BUTTON, camera=camera, slot=slot, formatted="no")
    assert page.status == 409
    assert "Nothing was logged yet." in page.says
    assert says in page.says
    assert loaded(crew) == []
    page = crew.lee.press(page, BUTTON, camera=camera, slot=slot, formatted="no")
    assert [(fact.camera, fact.slot) for fact in loaded(crew)] == [(camera, int(slot))]
    assert crew.harbour.agrees()


def test_another_slot_than_the_one_that_was_asked_about_is_asked_anew(crew: Crew) -> None:
    page = crew.lee.get("/cards/S-014?act=load")
    page = crew.lee.press(page, BUTTON, camera="A", slot="99", formatted="no")
    page = crew.lee.press(page, BUTTON, camera="A", slot="98", formatted="no")
    assert "no slot 98" in page.says
    assert loaded(crew) == []


@pytest.mark.parametrize(("camera", "slot"), [("A", ""), ("A", "1"), ("B", "2"), ("B", "")])
def test_a_slot_that_there_is_is_logged_at_once(crew: Crew, camera: str, slot: str) -> None:
    page = crew.lee.get("/cards/S-014?act=load")
    assert "A: empty, one slot" in page.says
    assert "B: empty, 2 slots" in page.says
    crew.lee.press(page, BUTTON, camera=camera, slot=slot, formatted="no")
    assert len(loaded(crew)) == 1


def test_the_service_refuses_no_fact(crew: Crew) -> None:
    acts_camera.load(crew.harbour.service, LEE, "S-014", "A", slot=99)
    assert crew.harbour.status("S-014") == "loaded"
