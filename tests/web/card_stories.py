"""How a card of Harbour comes to be as a story of its page begins, and how its forms are used."""

from __future__ import annotations

from typing import Any

from tests.services.harbour import GB, KIM, LEE, Harbour
from tests.web.visitor import Page, Visitor
from tracker.domain.facts import Fact
from tracker.services import acts_camera, acts_card, acts_clearing, acts_copies, acts_drive


def fresh(_harbour: Harbour) -> None:
    """S-014 was found empty, and waits."""


def in_camera(harbour: Harbour) -> None:
    """S-014 is in camera A, as A001."""
    acts_camera.swap(harbour.service, LEE, "S-014", "A", roll="A001")
    harbour.clock.wait(60)


def guessed(harbour: Harbour) -> None:
    """S-014 is in camera A, and nobody said how the roll is called."""
    acts_camera.swap(harbour.service, LEE, "S-014", "A")
    harbour.clock.wait(60)


def shot(harbour: Harbour) -> None:
    """S-014 is out, with A001 on it."""
    in_camera(harbour)
    acts_camera.pull(harbour.service, LEE, "S-014", bytes_=400 * GB, clips=12)
    harbour.clock.wait()


def claimed(harbour: Harbour) -> None:
    """A001 is said to be on RAID, and nobody checked it."""
    shot(harbour)
    acts_copies.copy_finished(harbour.service, KIM, "S-014", "RAID")
    harbour.clock.wait()


def backed_up(harbour: Harbour) -> None:
    """A001 is on RAID and SHUTTLE, checked as the rule asks."""
    shot(harbour)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    harbour.clock.wait()


def cleared(harbour: Harbour) -> None:
    backed_up(harbour)
    acts_clearing.clear(harbour.service, KIM, "S-014")


def aside(harbour: Harbour) -> None:
    acts_card.set_aside(harbour.service, KIM, "S-014", "dropped")


def gone(harbour: Harbour) -> None:
    acts_card.report_missing(harbour.service, KIM, "S-014")


def wiped(harbour: Harbour) -> None:
    """S-014 was formatted in the camera while A001 was nowhere else."""
    shot(harbour)
    acts_camera.format_in_camera(harbour.service, LEE, "S-014", camera="A")
    harbour.clock.wait()


def offload_day(harbour: Harbour) -> None:
    shot(harbour)
    acts_drive.set_todays_drives(harbour.service, KIM, ["RAID", "SHUTTLE"])


def at(who: Visitor, query: str = "") -> Page:
    return who.get(f"/cards/S-014{query}")


def press(who: Visitor, page: Page, button: str, **typed: Any) -> Page:
    """Press the button that begins with some words: the rest says what it would lose."""
    (found,) = {words for words in page.buttons if words.startswith(button)}
    return who.press(page, found, **typed)


def roll_id(harbour: Harbour) -> str:
    return next(f.id for f in reversed(harbour.facts("S-014")) if f.event == "loaded")


def last(harbour: Harbour, label: str = "S-014") -> Fact:
    return harbour.facts(label)[-1]
