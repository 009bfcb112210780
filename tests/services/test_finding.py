"""Names are found alike on both databases, whatever signs are in them."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE, Harbour
from tracker.services import acts_camera as camera
from tracker.services import acts_card as card
from tracker.services.finding import find


@pytest.mark.parametrize("name", ["A001", "Ä-1", "100%", "A_1", "A\\1"])
def test_a_roll_is_found_by_its_name_alone(harbour: Harbour, name: str) -> None:
    camera.load(harbour.service, LEE, "S-014", "A", roll=name, formatted=True)
    found = find(harbour.service, name)
    assert found.lead is not None
    assert (found.lead.kind, found.lead.label) == ("card", "S-014")
    assert find(harbour.service, "A01").lead is None


def test_a_roll_is_found_in_small_letters_too(harbour: Harbour) -> None:
    camera.load(harbour.service, LEE, "S-014", "A", roll="A001", formatted=True)
    found = find(harbour.service, "a001")
    assert found.lead is not None and found.lead.label == "S-014"


def test_what_a_card_was_called_is_told_with_what_it_is_called(harbour: Harbour) -> None:
    card.relabel(harbour.service, KIM, "S-014", "T-001")
    card.relabel(harbour.service, KIM, "T-001", "U-001")
    found = find(harbour.service, "s-014")
    assert [(hit.label, hit.why) for hit in found.moved] == [("U-001", "S-014")]
