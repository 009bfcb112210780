"""A new label for a card: nobody takes it for another's, and the card keeps its page."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM
from tests.web.visitor import Crew, Page
from tracker.services import acts_card
from tracker.services.labels_said import as_read


def relabel(crew: Crew, label: str) -> Page:
    page = crew.kim.get("/cards/S-014?act=relabel")
    return crew.kim.press(page, "Log the new label", new_label=label)


@pytest.mark.parametrize(
    "label", ["s-015", "S\u2010015", "S\u2013015", "S\u2212015", "S\u00a0-015", "s\uff0d015"]
)
def test_a_label_that_reads_as_the_one_of_another_card_is_refused(crew: Crew, label: str) -> None:
    if "\u00a0" in label:
        acts_card.register_card(crew.harbour.service, KIM, "S -015", "2.5in SSD", 10**12)
    before = crew.harbour.count()
    page = relabel(crew, label)
    assert (page.status, crew.harbour.count()) == (400, before)
    assert "“New label, as it is printed”: found" in page.says
    assert "015, which is on another card: they differ only in capitals, dashes or" in page.says
    assert page.form("Log the new label").fields["new_label"] == label


@pytest.mark.parametrize("label", [".", "..", "/x", "x/", "a//b", "a/../b"])
def test_a_label_that_no_address_can_hold_is_refused(crew: Crew, label: str) -> None:
    page = relabel(crew, label)
    assert page.status == 400
    assert "a label with a letter or a figure on each side of a slash" in page.says


@pytest.mark.parametrize("label", ["S-114", "s-014", "S/17 é", "S.1"])
def test_any_other_label_is_taken_and_leads_to_the_card(crew: Crew, label: str) -> None:
    page = relabel(crew, label)
    assert page.status == 200
    assert f"S-014: Relabelled from S-014 to {label}." in page.says
    assert crew.kim.get(f"/cards/{label}").status == 200


def test_the_label_of_another_card_itself_is_answered_as_ever(crew: Crew) -> None:
    page = relabel(crew, "S-015")
    assert page.status == 409
    assert "'S-015' is on another card" in page.says


def test_how_a_label_is_read() -> None:
    assert as_read("S\u2013015") == as_read("s-015") != as_read("s015")
