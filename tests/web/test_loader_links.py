"""A link to a card leads a loader to the short page of it, from every page; others to all of it."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE
from tests.web.visitor import Crew, Page
from tracker.services import acts_camera, acts_drive, codes


@pytest.fixture
def shooting(crew: Crew) -> Crew:
    """S-014 is out and on RAID only, S-015 in A; SHUTTLE is lost."""
    harbour = crew.harbour
    for label in ("S-014", "S-015"):
        acts_camera.swap(harbour.service, LEE, label, "A")
        harbour.clock.wait(30)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_drive.lose_drive(harbour.service, KIM, "SHUTTLE")
    return crew


def cards(page: Page) -> set[str]:
    return {link for link in page.read.links if link.startswith(("/cards/", "/c/"))}


PAGES = (
    "/now", "/now?show=below", "/now?show=dangers", "/camera/A", "/morning", "/drives/RAID",
    "/several?card=S-014", "/find?q=S-01",
)  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_a_loader_is_led_to_the_short_page(shooting: Crew, path: str) -> None:
    found = cards(shooting.lee.get(path))
    known = set(codes.of_cards(shooting.harbour.service).values())
    assert found
    assert found <= {f"/c/{code}" for code in known}


@pytest.mark.parametrize("path", PAGES)
def test_a_data_manager_is_led_to_all_of_it(shooting: Crew, path: str) -> None:
    found = cards(shooting.kim.get(path))
    assert found
    assert all(link.startswith("/cards/S-01") for link in found)


def test_the_label_of_a_card_leads_there_at_once(shooting: Crew) -> None:
    shooting.lee.get("/find?q=S-014")
    assert shooting.lee.at.startswith("/c/")
    shooting.kim.get("/find?q=S-014")
    assert shooting.kim.at == "/cards/S-014"


def test_four_characters_that_are_no_code_may_be_a_label(shooting: Crew) -> None:
    says = shooting.lee.get("/find?q=S-01").says
    assert "Whether it is a label or a code, it was mistyped" in says
    assert "Card S-014" in says
    says = shooting.lee.get("/several?add=S-01").says
    assert "As a label it is wrong too: no card has the label 'S-01'" in says
    assert "S-014" in says
