"""What speaks against a card beside a camera is what speaks against it in the morning's plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.demo import demo
from tests.services.harbour import GB, KIM, LEE, Harbour
from tracker.services import acts_camera, acts_card
from tracker.services.beside_camera import into
from tracker.services.card_page import card_page
from tracker.services.morning import morning


def against(harbour: Harbour, label: str) -> dict[str, list[str]]:
    """The reasons why a card should not go in, by camera."""
    found = into(harbour.service, card_page(harbour.service, label))
    return {one.camera: [reason.code for reason in one.reasons] for one in found}


def test_nothing_speaks_against_a_card_that_is_ready(harbour: Harbour) -> None:
    assert against(harbour, "S-014") == {"A": [], "B": []}


@pytest.mark.parametrize("camera", ["A", "B"])
def test_a_card_that_nobody_looked_at_is_not_loaded(harbour: Harbour, camera: str) -> None:
    acts_card.register_card(harbour.service, KIM, "S-020", "2.5in SSD", 1_000 * GB)
    assert against(harbour, "S-020")[camera] == ["unseen"]


def test_somebody_elses_card_is_not_loaded(harbour: Harbour) -> None:
    service = harbour.service
    acts_card.take_in_visiting(service, LEE, "V-001", "2.5in SSD", 500 * GB, owner="another crew")
    harbour.clock.wait()
    acts_card.check_in(service, LEE, "V-001", "empty")
    assert "visiting" in against(harbour, "V-001")["A"]


def test_a_card_that_is_backed_up_is_cleared_first(harbour: Harbour) -> None:
    acts_camera.swap(harbour.service, LEE, "S-014", "A")
    harbour.clock.wait(30)
    acts_camera.pull(harbour.service, LEE, "S-014")
    harbour.checked("S-014", "RAID", "SHUTTLE")
    (reason,) = into(harbour.service, card_page(harbour.service, "S-014"))[0].reasons
    assert (reason.code, reason.settles) == ("not cleared", "clear it")


def test_a_format_in_the_camera_is_asked_for_and_speaks_against_nothing(harbour: Harbour) -> None:
    acts_camera.format_in_camera(harbour.service, LEE, "S-014", camera="A")
    found = into(harbour.service, card_page(harbour.service, "S-014"))
    (b, *_) = [one for one in found if one.camera == "B"]
    assert (b.reasons, [one.code for one in b.wants_format]) == ((), ["body"])


def test_every_card_of_a_whole_production_is_judged_as_in_the_morning(tmp_path: Path) -> None:
    with demo(tmp_path) as service:
        seen = morning(service)
        assert seen is not None
        assert len(seen.nowhere) > 10
        for camera in seen.cameras:
            for choice in camera.choices:
                lines = card_page(service, choice.label).cameras
                (line,) = (x for x in lines if x.camera.letters == camera.described.letters)
                assert line.reasons == choice.reasons, choice.label
