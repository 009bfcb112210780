"""The drives: what is where, how full, which take today's copies, and what goes with one."""

from __future__ import annotations

import pytest

from tests.services.harbour import CART, GB, KIM, LEE
from tests.web.visitor import Crew
from tracker.services import acts_camera, acts_copies, acts_drive


@pytest.fixture
def shot(crew: Crew) -> Crew:
    """S-014 (A001) is on RAID and SHUTTLE, S-015 (A002) on RAID only; both are out."""
    harbour = crew.harbour
    for label in ("S-014", "S-015"):
        acts_camera.swap(harbour.service, LEE, label, "A")
        harbour.clock.wait(30)
    acts_camera.pull(harbour.service, LEE, "S-015", bytes_=400 * GB)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    harbour.checked("S-015", "RAID")
    return crew


def test_everybody_sees_what_is_where(shot: Crew) -> None:
    page = shot.lee.get("/drives")
    for words in ("RAID", "SHUTTLE", "VAULT", "off site", "2 rolls on RAID", "none logged"):
        assert words in page.says
    assert "Set today\u2019s drives" not in page.buttons
    assert "Register the drive" not in page.buttons


def test_each_count_leads_to_what_it_counts(shot: Crew) -> None:
    page = shot.kim.get("/drives")
    assert "1 on RAID below the rule" in page.says
    assert "/drives/RAID?rolls=below#rolls" in page.read.links
    below = shot.kim.get("/drives/RAID?rolls=below")
    assert "A002" in below.says
    assert "A001" not in below.says


def test_what_nobody_knows_is_unknown_and_not_nought(shot: Crew) -> None:
    page = shot.kim.get("/drives/SHUTTLE")
    assert "Full, as far as is known unknown" in page.says
    assert "at least 1 % of 64 TB" in shot.kim.get("/drives/RAID").says
    assert "no rolls logged on it" in shot.kim.get("/drives/VAULT").says


def test_a_drive_tells_of_each_roll_whether_its_copy_counts(shot: Crew) -> None:
    acts_copies.copy_finished(shot.harbour.service, CART, "S-015", "SHUTTLE")
    page = shot.kim.get("/drives/SHUTTLE")
    assert "claimed no: the rule asks for checksummed" in page.says
    assert "RAID: checksummed, counts" in page.says


def test_the_drives_of_the_day_are_set_and_offloaded_goes_there(shot: Crew) -> None:
    page = shot.kim.get("/drives")
    assert "No drives are set for today." in page.says
    page = shot.kim.press(page, "Set today\u2019s drives", drive=["RAID", "SHUTTLE"])
    assert "Today\u2019s drives are set: RAID, SHUTTLE." in page.says
    assert acts_drive.todays_drives(shot.harbour.service) == ["RAID", "SHUTTLE"]
    page = shot.kim.press(page, "Set today\u2019s drives", drive=None)
    assert acts_drive.todays_drives(shot.harbour.service) == []


def test_a_drive_of_the_day_that_fails_is_told(shot: Crew) -> None:
    acts_drive.set_todays_drives(shot.harbour.service, KIM, ["RAID", "SHUTTLE"])
    acts_drive.fail_drive(shot.harbour.service, KIM, "SHUTTLE")
    page = shot.lee.get("/drives")
    assert "SHUTTLE does not work: a data manager sets today\u2019s drives anew" in page.says


def test_danger_stands_first(shot: Crew) -> None:
    acts_drive.lose_drive(shot.harbour.service, KIM, "SHUTTLE")
    page = shot.lee.get("/drives")
    assert page.says.index("SHUTTLE is lost") < page.says.index("Today\u2019s drives")
    assert "/drives/SHUTTLE?rolls=below#rolls" in page.read.links


def test_pat_registers_a_drive_as_it_is_printed_on_it(crew: Crew) -> None:
    page = crew.pat.get("/drives")
    page = crew.pat.press(page, "Register the drive", drive="NEST 1#a", kind="hdd", capacity="8 TB")
    assert "Drive NEST 1#a registered: hdd, 8 TB, on set" in page.says
    page = crew.pat.get("/drives/NEST%201%23a")
    assert "8 TB" in page.says
    assert crew.harbour.agrees()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"capacity": "8"}, "a unit beside the number, such as 8 TB"),
        ({"capacity": "8 parsec"}, "a size with its unit"),
        ({"capacity": ""}, "found nothing, expected some words"),
        ({"drive": ""}, "found nothing, expected some words"),
        ({"drive": "RAID"}, "There is a drive RAID already"),
        ({"kind": "floppy"}, "expected one of: ssd"),
    ],
)
def test_what_was_typed_wrongly_is_kept_and_nothing_is_logged(
    crew: Crew, typed: dict[str, str], says: str
) -> None:
    before = crew.harbour.count()
    given = {"drive": "NEST-1", "kind": "hdd", "capacity": "8 TB", **typed}
    page = crew.kim.press(crew.kim.get("/drives"), "Register the drive", **given)
    assert page.status in (400, 409)
    assert says in page.says
    assert page.form("Register the drive").fields["drive"] == given["drive"]
    assert crew.harbour.count() == before


def test_a_drive_travels_and_arrives(shot: Crew) -> None:
    page = shot.kim.get("/drives/RAID")
    page = shot.kim.press(
        page, "Log where RAID is", place="in transit", holder="Sam, driver", seal="4711"
    )
    assert "Drive RAID moved: in transit, with Sam, driver, seal 4711" in page.says
    assert "until somebody says that it arrived" in page.says
    page = shot.kim.press(page, "Log where RAID is", place="off site")
    assert "Place off site" in page.says
    assert shot.harbour.agrees()


def test_a_form_that_is_sent_twice_says_nothing_new(shot: Crew) -> None:
    page = shot.kim.get("/drives/RAID")
    shot.kim.press(page, "Log where RAID is", place="off site")
    before = shot.harbour.count()
    shot.kim.press(page, "Log where RAID is", place="off site")
    assert shot.harbour.count() == before


# Before something goes


@pytest.mark.parametrize("word", ["empty", "fail", "lose", "give-back"])
def test_it_is_asked_first_and_names_the_rolls_their_copies_and_levels(
    shot: Crew, word: str
) -> None:
    before = shot.harbour.count()
    page = shot.kim.get(f"/drive/{word}/SHUTTLE")
    assert shot.harbour.count() == before
    assert "1 roll falls below the backup rule" in page.says
    assert "A001, card S-014: still on the card" in page.says
    assert "RAID: checksummed, counts" in page.says
    assert "SHUTTLE: checksummed, counts (this one goes)" in page.says
    assert "Do not format a card that still holds one of them." in page.says
    (button,) = (words for words in page.buttons if words.startswith("Log it as"))
    page = shot.kim.press(page, button, text="seen by two")
    assert shot.kim.at.startswith("/drives/SHUTTLE")
    assert shot.harbour.count() == before + 1
    assert shot.harbour.status("S-014") == "exposed"
    assert shot.harbour.agrees()


def test_the_last_copy_of_a_roll_that_no_card_holds_is_said_plainly(shot: Crew) -> None:
    harbour = shot.harbour
    acts_drive.fail_drive(harbour.service, KIM, "RAID")
    acts_camera.format_in_camera(harbour.service, LEE, "S-014", camera="A")
    page = shot.kim.get("/drive/empty/SHUTTLE")
    assert "The last copy of 1 roll goes with it" in page.says
    assert "No card holds A001 any more, and no other copy counts." in page.says
    assert "RAID: checksummed, does not count (RAID does not work)" in page.says
    assert "Log it as emptied, though the last copy of 1 roll goes" in page.buttons


def test_a_drive_that_nobody_needs_goes_quietly(shot: Crew) -> None:
    page = shot.kim.get("/drive/give-back/VAULT")
    assert "No roll is logged on it" in page.says
    assert "Eject it before unplugging" in page.says
    page = shot.kim.press(page, "Log it as given back")
    assert "It went back" in page.says
    assert "It is emptied…" not in page.says


def test_a_lost_drive_is_found_again(shot: Crew) -> None:
    acts_drive.lose_drive(shot.harbour.service, KIM, "SHUTTLE")
    page = shot.kim.get("/drives/SHUTTLE")
    assert "It is lost" in page.says
    page = shot.kim.press(page, "SHUTTLE was found", text="under the cart")
    assert "Drive SHUTTLE found (under the cart)" in page.says
    assert shot.harbour.status("S-014") == "backed up"


def test_a_mistake_is_taken_back(shot: Crew) -> None:
    page = shot.kim.press(shot.kim.get("/drive/fail/VAULT"), "Log it as failed")
    assert "Take this back" in page.buttons
    page = shot.kim.press(page, "Take this back")
    assert "It does not work, since" not in shot.kim.get("/drives/VAULT").says


def test_a_drive_that_nobody_knows_is_not_here(crew: Crew) -> None:
    page = crew.kim.get("/drives/RIAD")
    assert page.status == 404
    assert "RAID" in page.says
