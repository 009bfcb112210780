"""What would follow is tried on the rows and undone; and nobody comes between look and act."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE, Harbour
from tracker.domain.errors import CardwrightError
from tracker.services import (
    acts_back,
    acts_camera,
    acts_card,
    acts_clearing,
    acts_copies,
    as_drawn,
)
from tracker.services.card_page import card_page
from tracker.services.card_trying import alone, if_said
from tracker.services.errors import Refused


def test_a_card_is_shown_as_it_would_be_and_stays_as_it_is(harbour: Harbour) -> None:
    before = harbour.count()
    after = if_said(
        harbour.service,
        "S-014",
        lambda trying: acts_camera.load(trying, LEE, "S-014", "A", roll="A001", formatted=True),
    )
    assert after is not None
    assert (after.status, after.rolls[0].roll.name) == ("loaded", "A001")
    assert harbour.status("S-014") == "cleared"
    assert harbour.count() == before
    assert harbour.agrees()


def test_what_is_refused_is_refused_where_it_is_tried(harbour: Harbour) -> None:
    acts_camera.load(harbour.service, LEE, "S-014", "A")
    with pytest.raises(Refused):
        if_said(harbour.service, "S-014", lambda trying: acts_clearing.clear(trying, KIM, "S-014"))
    acts_copies.copy_finished(harbour.service, KIM, "S-014", "RAID")
    assert harbour.agrees()


def test_a_card_that_would_be_no_more_has_no_page(harbour: Harbour) -> None:
    acts_card.register_card(harbour.service, KIM, "S-020", "2.5in SSD", 10**12)
    (registered,) = harbour.facts("S-020")
    gone = if_said(
        harbour.service,
        "S-020",
        lambda trying: acts_back.take_back(trying, KIM, registered.id, "no such card"),
    )
    assert gone is None
    assert "S-020" in harbour.labels()


def test_look_and_act_are_one_transaction(harbour: Harbour) -> None:
    before = harbour.count()
    with pytest.raises(CardwrightError), alone(harbour.service) as inside:
        assert card_page(inside, "S-014").status == "cleared"
        acts_card.set_aside(inside, LEE, "S-014", "dropped")
        assert card_page(inside, "S-014").status == "set aside"
        raise as_drawn.AskAgain("It is otherwise now.")
    assert harbour.count() == before
    assert harbour.status("S-014") == "cleared"
