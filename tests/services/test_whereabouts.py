"""Who has a card is said in one way: by Now, which reads rows, and on the page of the card."""

from __future__ import annotations

from pathlib import Path

from tests.demo import demo
from tests.services.harbour import KIM, LEE, Harbour
from tracker.services import acts_camera, acts_card
from tracker.services.card_page import card_page
from tracker.services.now import now
from tracker.services.service import Service


def agrees(service: Service) -> dict[str, str]:
    """Who has each card, by its label."""
    said = {}
    for line in now(service).lines:
        page = card_page(service, line.label)
        since = None if page.since is None else page.since[0]
        assert (line.has, line.has_since) == (page.with_whom or "unknown", since), line.label
        said[line.label] = line.has
    return said


def test_both_say_the_same_of_every_card_of_a_whole_production(tmp_path: Path) -> None:
    with demo(tmp_path) as service:
        said = agrees(service)
    assert len(said) > 30
    assert len(set(said.values())) > 5


def test_both_say_that_nobody_knows_of_a_card_that_went_missing_in_its_camera(
    harbour: Harbour,
) -> None:
    acts_camera.load(harbour.service, LEE, "S-014", "A")
    acts_card.hand_over(harbour.service, LEE, ["S-015"], "the cart", "cart")
    harbour.clock.wait()
    acts_card.report_missing(harbour.service, KIM, "S-014", place="the pier")
    said = agrees(harbour.service)
    assert said["S-014"] == "nobody knows, last seen at the pier"
    assert said["S-015"] == "the cart"
    assert said["S-016"] == "unknown"
