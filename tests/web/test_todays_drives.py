"""Today's drives: one that is lost or failed takes no copies, and every page says what to do."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM, LEE
from tests.web.visitor import Crew
from tracker.domain.facts import CopyFinished
from tracker.services import acts_camera, acts_copies, acts_drive
from tracker.services.acts_drive import NotForToday
from tracker.services.card_page import card_page

TODAY = "Set today\u2019s drives"


@pytest.fixture
def shot(crew: Crew) -> Crew:
    """S-014 is shot; RAID and SHUTTLE are today's drives, and RAID is lost since."""
    harbour = crew.harbour
    acts_drive.set_todays_drives(harbour.service, KIM, ["RAID", "SHUTTLE"])
    acts_camera.swap(harbour.service, LEE, "S-014", "A")
    harbour.clock.wait(30)
    acts_camera.pull(harbour.service, LEE, "S-014")
    acts_drive.lose_drive(harbour.service, KIM, "RAID")
    harbour.clock.wait()
    return crew


def test_offloaded_goes_to_the_drives_that_are_there(shot: Crew) -> None:
    service = shot.harbour.service
    page = card_page(service, "S-014")
    assert (page.todays, page.todays_gone) == (("SHUTTLE",), ("RAID is lost",))
    form = shot.lee.get("/cards/S-014?act=offloaded")
    assert "Today\u2019s copies go to SHUTTLE. RAID is lost: a data manager" in form.says
    done = acts_copies.offloaded(service, LEE, ["S-014"])
    assert [f.drive for f in done.new if isinstance(f, CopyFinished)] == ["SHUTTLE"]
    assert shot.harbour.agrees()


def test_with_none_of_them_left_nothing_is_said_and_it_is_told_what_to_do(shot: Crew) -> None:
    service = shot.harbour.service
    acts_drive.fail_drive(service, KIM, "SHUTTLE")
    before = shot.harbour.count()
    with pytest.raises(acts_copies.NoDrivesToday) as refused:
        acts_copies.offloaded(service, LEE, ["S-014"])
    assert "RAID is lost and SHUTTLE does not work" in str(refused.value)
    assert "a data manager sets today's drives anew" in str(refused.value)
    assert shot.harbour.count() == before
    assert "None of today\u2019s drives can be used." in shot.lee.get("/drives").says


@pytest.mark.parametrize("path", ["/drives", "/morning", "/morning/sheet"])
def test_every_page_of_the_day_says_it_with_a_link(shot: Crew, path: str) -> None:
    shot.kim.press(shot.kim.get("/morning"), "Commit the plan")
    page = shot.lee.get(path)
    assert "RAID is lost: a data manager sets today\u2019s drives anew" in page.says
    assert "/drives#today" in page.read.links
    assert "RAID is lost: set today\u2019s drives anew" in shot.kim.get(path).says


@pytest.mark.parametrize(
    ("go", "says"),
    [
        (acts_drive.lose_drive, "VAULT is lost"),
        (acts_drive.fail_drive, "VAULT does not work"),
        (acts_drive.give_back_drive, "VAULT went back"),
    ],
)
def test_a_drive_that_went_while_the_form_was_open_is_refused(
    shot: Crew, go: type, says: str
) -> None:
    form = shot.kim.get("/drives")
    go(shot.harbour.service, KIM, "VAULT")
    page = shot.kim.press(form, TODAY, drive=["SHUTTLE", "VAULT"])
    assert page.status == 409
    assert f"{says}: today's copies cannot go there. Nothing was changed" in page.says
    assert "choose other drives" in page.says
    assert page.form(TODAY).fields["drive"] == "SHUTTLE"
    assert acts_drive.todays_drives(shot.harbour.service) == ["SHUTTLE"]
    assert acts_drive.todays_drives_gone(shot.harbour.service) == ["RAID is lost"]


def test_set_anew_without_it_nothing_more_is_said_of_it(shot: Crew) -> None:
    shot.kim.press(shot.kim.get("/drives"), TODAY, drive=["SHUTTLE", "VAULT"])
    assert "RAID is lost:" not in shot.lee.get("/morning").says
    assert acts_drive.todays_drives(shot.harbour.service) == ["SHUTTLE", "VAULT"]


def test_found_again_it_takes_copies_again(shot: Crew) -> None:
    service = shot.harbour.service
    acts_drive.find_drive(service, KIM, "RAID")
    assert acts_drive.todays_drives(service) == ["RAID", "SHUTTLE"]
    assert acts_drive.todays_drives_gone(service) == []


def test_an_emptied_drive_takes_todays_copies(shot: Crew) -> None:
    acts_drive.empty_drive(shot.harbour.service, KIM, "VAULT")
    acts_drive.set_todays_drives(shot.harbour.service, KIM, ["VAULT"])
    assert acts_drive.todays_drives(shot.harbour.service) == ["VAULT"]


def test_what_cannot_be_used_is_named_once_and_all_of_it(shot: Crew) -> None:
    acts_drive.fail_drive(shot.harbour.service, KIM, "SHUTTLE")
    with pytest.raises(NotForToday, match="RAID is lost and SHUTTLE does not work"):
        acts_drive.set_todays_drives(shot.harbour.service, KIM, ["RAID", "SHUTTLE", "VAULT"])


def test_a_lost_drive_is_nowhere(shot: Crew) -> None:
    assert "Place lost, last on set" in shot.lee.get("/drives/RAID").says
    assert "lost, last on set" in shot.lee.get("/drives").says
