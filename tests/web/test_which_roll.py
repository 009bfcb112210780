"""Which roll a form means: the one that was chosen, or what is plain where none was."""

from __future__ import annotations

from typing import Any

import pytest

from tests.services.harbour import GB, KIM, LEE, Harbour
from tests.web.visitor import Crew, Page, Visitor
from tracker.domain.card import CardState
from tracker.services import acts_camera, acts_card, acts_clearing, acts_copies
from tracker.services.card_page import card_page

ASKED = "“Roll”: found none, expected one to be chosen, since "


def shot(harbour: Harbour, roll: str, camera: str = "A", *, formatted: bool = False) -> None:
    """A roll is shot on S-014, and out of the camera an hour later."""
    acts_camera.load(harbour.service, LEE, "S-014", camera, roll=roll, formatted=formatted)
    harbour.clock.wait(60)
    acts_camera.pull(harbour.service, LEE, "S-014", bytes_=400 * GB)
    harbour.clock.wait()


@pytest.fixture
def twice(crew: Crew) -> Crew:
    """S-014 holds A001 of camera A and, by a slip, A001 of camera B."""
    shot(crew.harbour, "A001", formatted=True)
    shot(crew.harbour, "A001", "B")
    return crew


@pytest.fixture
def two(crew: Crew) -> Crew:
    """S-014 holds A001 and A002, neither of them backed up."""
    shot(crew.harbour, "A001", formatted=True)
    shot(crew.harbour, "A002")
    return crew


def form(who: Visitor, act: str) -> Page:
    return who.get(f"/cards/S-014?act={act}")


def say(who: Visitor, act: str, **typed: Any) -> Page:
    """Fill in a form and press its button; where it asks, look, and press again."""
    page = form(who, act)
    page = who.press(page, _button(page, act), **typed)
    if page.status == 409 and "Nothing was logged yet" in page.says:
        page = who.press(page, _button(page, act))
    return page


def _button(page: Page, act: str) -> str:
    (found,) = [f.buttons[-1] for f in page.read.forms if f.action.endswith(f"/{act}")]
    return found


def state(crew: Crew) -> CardState:
    return card_page(crew.harbour.service, "S-014").state


def ids(crew: Crew) -> list[str]:
    """The ids of its rolls, in the order of loading."""
    return list(state(crew).rolls)


def copies(crew: Crew) -> dict[str, list[str]]:
    """On which drives each roll has a finished copy."""
    rolls = state(crew).rolls.values()
    return {r.name: [c.drive for c in r.copies.values() if c.finish is not None] for r in rolls}


def dangers(crew: Crew) -> list[tuple[str, str | None]]:
    return [m for m in crew.harbour.mishaps("S-014") if m[0].startswith(("copy_", "covered"))]


# Two of one name


def test_rolls_of_one_name_are_told_apart_by_camera_time_and_size(twice: Crew) -> None:
    words = form(twice.kim, "write-off").says
    assert "A001, out of camera A, 2026-03-02 11:10, 400 GB, on the card, not backed up" in words
    assert "A001, out of camera B, 2026-03-02 12:20, 400 GB, on the card, not backed up" in words


@pytest.mark.parametrize("act", ["write-off", "declare-empty", "received"])
def test_what_cannot_be_said_of_one_of_two_is_refused_with_what_to_do(
    twice: Crew, act: str
) -> None:
    first, _ = ids(twice)
    more = {"authorised_by": "Noor", "reason": "test", "received_from": "Mia", "verdict": "bad"}
    before = twice.harbour.count()
    page = say(twice.kim, act, roll=first, **more)
    assert (page.status, twice.harbour.count()) == (400, before)
    assert "2 rolls of this card were called A001" in page.says
    assert "Rename this one first" in page.says


def test_the_one_loaded_last_is_meant_by_the_name(twice: Crew) -> None:
    first, last = ids(twice)
    assert say(twice.kim, "write-off", roll=last, authorised_by="Noor", reason="test").status == 200
    rolls = state(twice).rolls
    assert (rolls[first].written_off, rolls[last].written_off) == (False, True)


@pytest.mark.parametrize("chosen", [0, 1])
def test_either_of_two_can_be_given_a_name_of_its_own(twice: Crew, chosen: int) -> None:
    one = ids(twice)[chosen]
    page = form(twice.kim, "rename-roll")
    assert "2 rolls here are called A001" in page.says
    assert say(twice.kim, "rename-roll", roll_id=one, new_name="B007").status == 200
    rolls = state(twice).rolls
    assert [rolls[id_].name == "B007" for id_ in ids(twice)] == [chosen == 0, chosen == 1]
    say(twice.kim, "write-off", roll=one, authorised_by="Noor", reason="test")
    rolls = state(twice).rolls
    assert [rolls[id_].written_off for id_ in ids(twice)] == [chosen == 0, chosen == 1]
    assert twice.harbour.agrees()


def test_a_rename_that_is_sent_twice_renames_once(twice: Crew) -> None:
    page = form(twice.kim, "rename-roll")
    for _ in range(2):
        twice.kim.press(page, "Log the name", roll_id=ids(twice)[0], new_name="B007")
    assert [f.event for f in twice.harbour.facts("S-014")].count("roll_renamed") == 1


def test_what_went_wrong_with_both_of_one_name_is_said_to_be_settled_together(twice: Crew) -> None:
    acts_camera.format_in_camera(twice.harbour.service, LEE, "S-014", camera="A")
    links = [link for link in twice.kim.get("/cards/S-014").read.links if "act=settle&" in link]
    (link,) = {link for link in links if "formatted_uncovered" in link}
    assert "(roll A001): 2 rolls, settled together" in twice.kim.get(link).says


# None was chosen


@pytest.mark.parametrize("reason", ["unreadable", "short", "differs"])
def test_a_failure_without_a_start_is_of_the_one_roll_that_is_not_backed_up(
    crew: Crew, reason: str
) -> None:
    shot(crew.harbour, "A001", formatted=True)
    assert say(crew.kim, "copy-failed", drive="RAID", reason=reason).status == 200
    kind = "card_unreadable" if reason == "unreadable" else f"copy_{reason}"
    assert (kind, "A001") in crew.harbour.mishaps("S-014")


def test_a_failure_is_not_of_an_older_roll_that_was_on_that_drive(crew: Crew) -> None:
    shot(crew.harbour, "A001", formatted=True)
    crew.harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_clearing.clear(crew.harbour.service, KIM, "S-014")
    shot(crew.harbour, "A002", formatted=True)
    say(crew.kim, "copy-failed", drive="RAID", reason="differs")
    assert dangers(crew) == [("copy_differs", "A002")]
    assert copies(crew)["A001"] == ["RAID", "SHUTTLE"]


def test_a_lost_copy_is_of_what_is_on_the_card_and_of_nothing_before(crew: Crew) -> None:
    shot(crew.harbour, "A001", formatted=True)
    crew.harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_clearing.clear(crew.harbour.service, KIM, "S-014")
    shot(crew.harbour, "A002", formatted=True)
    acts_copies.copy_finished(crew.harbour.service, KIM, "S-014", "RAID")
    assert say(crew.kim, "copy-lost", drive="RAID", reason="the folder is gone").status == 200
    assert copies(crew) == {"A001": ["RAID", "SHUTTLE"], "A002": []}
    assert dangers(crew) == []
    page = say(crew.kim, "copy-lost", drive="RAID", reason="the folder is gone")
    assert ASKED + "nothing on the card is on RAID" in page.says


def test_a_check_is_asked_where_only_one_of_two_is_on_the_drive(two: Crew) -> None:
    acts_copies.copy_finished(two.harbour.service, KIM, "S-014", "RAID", roll="A001")
    page = say(two.kim, "checked", drive="RAID", level="claimed")
    assert page.status == 400
    assert ASKED + "of A001 and A002 only A001 is on RAID" in page.says
    assert say(two.kim, "checked", drive="RAID", level="claimed", roll_id=ids(two)[1]).status == 200
    assert copies(two) == {"A001": ["RAID"], "A002": ["RAID"]}


def test_a_copy_of_every_roll_is_said_of_each_by_its_id_and_taken_back_at_once(two: Crew) -> None:
    page = say(two.kim, "copied", drive="RAID")
    assert "Copy of roll A001 to RAID finished" in page.says
    assert "Copy of roll A002 to RAID finished" in page.says
    facts = [f for f in two.harbour.facts("S-014") if f.event == "copy_finished"]
    assert [getattr(f, "roll_id", None) for f in facts] == ids(two)
    say(two.kim, "checked", drive="RAID", level="claimed")
    assert copies(two) == {"A001": ["RAID"], "A002": ["RAID"]}


def test_what_is_on_the_drive_already_is_not_said_again(two: Crew) -> None:
    acts_copies.copy_finished(two.harbour.service, KIM, "S-014", "RAID", roll="A001")
    say(two.kim, "copied", drive="RAID")
    facts = [f for f in two.harbour.facts("S-014") if f.event == "copy_finished"]
    assert [getattr(f, "roll", None) for f in facts] == ["A001", "A002"]
    page = say(two.kim, "copied", drive="RAID")
    assert ASKED + "A001 and A002 are on RAID already" in page.says


def test_a_size_is_of_one_roll(two: Crew) -> None:
    page = say(two.kim, "copied", drive="RAID", size="400 GB")
    assert (page.status, copies(two)) == (400, {"A001": [], "A002": []})
    assert "one to be chosen, since the size can only be that of one of 2 rolls" in page.says
    assert page.form("Log the copy").fields["size"] == "400 GB"


def test_a_copy_begun_of_one_roll_is_not_finished_of_both(two: Crew) -> None:
    acts_copies.copy_started(two.harbour.service, KIM, "S-014", "RAID", roll="A001")
    page = say(two.kim, "copied", drive="RAID")
    assert (
        ASKED + "the copy to RAID that was begun is of A001; not backed up: A001 and A002"
        in page.says
    )


@pytest.mark.parametrize("act", ["copied", "checked", "copy-failed"])
def test_no_roll_is_said_of_a_card_that_is_in_a_camera(crew: Crew, act: str) -> None:
    shot(crew.harbour, "A001", formatted=True)
    acts_camera.load(crew.harbour.service, LEE, "S-014", "A", roll="A002")
    page = say(crew.kim, act, drive="RAID", level="claimed", reason="short")
    assert page.status == 400
    assert ASKED + "A002 is in a camera, as far as the entries say" in page.says
    assert crew.harbour.status("S-014") == "loaded"


def test_where_everything_is_backed_up_one_is_to_be_chosen(crew: Crew) -> None:
    shot(crew.harbour, "A001", formatted=True)
    crew.harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_card.hand_over(crew.harbour.service, LEE, ["S-014"], "Kim", "cart")
    page = say(crew.kim, "copied", drive="VAULT")
    assert ASKED + "every roll on the card is backed up" in page.says
    say(crew.kim, "copied", drive="VAULT", roll_id=ids(crew)[0])
    assert sorted(copies(crew)["A001"]) == ["RAID", "SHUTTLE", "VAULT"]
