"""Pages that lay open for a while: what they say is compared, and asked again, before it counts."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.services.harbour import KIM
from tests.web.test_loader import card, code, last, shot
from tests.web.visitor import Crew
from tracker.services import (
    acts_camera,
    acts_card,
    acts_clearing,
    acts_copies,
    acts_drive,
    morning,
    planning,
)
from tracker.services.as_drawn import AskAgain
from tracker.services.service import new_id


@pytest.fixture
def lee(crew: Crew) -> Crew:
    """Lee, on a morning on which today's drives are set."""
    acts_drive.set_todays_drives(crew.harbour.service, KIM, ["RAID", "SHUTTLE"])
    return crew


# Into a camera


def test_a_swap_takes_out_what_its_button_says_or_nothing(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(30)
    old = card(lee, "S-015")
    # Meanwhile Kim swapped another card in.
    acts_camera.swap(lee.harbour.service, KIM, "S-016", "A")
    count = lee.harbour.count()
    page = lee.lee.press(old, "Into A as A002?, S-014 comes out")
    assert page.status == 409
    assert "Camera A holds S-016 now, not S-014." in page.says
    assert lee.harbour.count() == count
    # The page that asks says what comes out now, and that is what happens.
    page = lee.lee.press(page, "Into A as A003?, S-016 comes out")
    assert page.status == 200
    assert lee.harbour.status("S-016") == "exposed"
    assert lee.harbour.agrees()


def test_a_camera_that_was_emptied_meanwhile_is_asked_about(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(30)
    old = card(lee, "S-015")
    acts_camera.pull(lee.harbour.service, KIM, "S-014")
    page = lee.lee.press(old, "Into A as A002?, S-014 comes out")
    assert page.status == 409
    assert "Camera A does not hold S-014 any more" in page.says
    assert lee.harbour.status("S-015") == "cleared"


def test_a_card_that_became_do_not_format_is_not_loaded_unasked(lee: Crew) -> None:
    old = card(lee, "S-015")
    acts_card.set_aside(lee.harbour.service, KIM, "S-015", "the case is cracked")
    page = lee.lee.press(old, "Into A as A001?")
    assert page.status == 409
    assert "Something was logged about S-015 since this page was drawn." in page.says
    assert lee.harbour.status("S-015") == "set aside"


def test_a_page_of_a_card_is_not_old_because_of_another_card(lee: Crew) -> None:
    old = card(lee, "S-015")
    lee.lee.press(card(lee, "S-014"), "Into B slot 1 as B001?")
    assert lee.lee.press(old, "Into A as A001?").status == 200
    assert lee.harbour.status("S-015") == "loaded"


# Out of a camera


def test_out_from_an_old_page_makes_no_roll_that_nobody_shot(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    old_card, old_camera = card(lee, "S-014"), lee.lee.get("/camera/A")
    lee.harbour.clock.wait(20)
    lee.lee.press(card(lee, "S-014"), "Out of A")
    lee.harbour.clock.wait(20)
    count = lee.harbour.count()
    for page, button in ((old_camera, "S-014 out of A"), (old_card, "Out of A")):
        asked = lee.lee.press(page, button)
        assert asked.status == 409
        assert "Nothing was logged" in asked.says
    assert lee.harbour.count() == count


@pytest.mark.parametrize("minutes", ["15", "30"])
def test_a_time_before_it_went_in_is_asked_again(lee: Crew, minutes: str) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    went_in = last(lee, "S-014").occurred_at
    lee.harbour.clock.wait(10)
    page = lee.lee.press(card(lee, "S-014"), "Out of A", when=minutes)
    assert page.status == 409
    local = went_in + timedelta(hours=2)
    assert f"S-014 went into camera A at {local:%H:%M}, and the time that you said" in page.says
    assert lee.harbour.status("S-014") == "loaded"
    lee.lee.press(page, "Out of A", when="5")
    assert lee.harbour.status("S-014") == "exposed"


def test_a_swap_before_the_other_card_went_in_is_asked_again(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(10)
    page = lee.lee.press(card(lee, "S-015"), "Into A as A002?, S-014 comes out", when="30")
    assert page.status == 409
    assert "S-014 went into camera A" in page.says
    assert lee.harbour.status("S-014") == "loaded"


def test_a_load_before_it_was_cleared_is_asked_again(lee: Crew) -> None:
    acts_clearing.clear(lee.harbour.service, KIM, "S-014")
    lee.harbour.clock.wait(1)
    page = lee.lee.get(f"/c/{code(lee, 'S-014')}")
    into = next(one for one in page.buttons if one.startswith("Into A"))
    page = lee.lee.press(page, into, when="15")
    assert page.status == 409
    assert "S-014 was cleared at" in page.says


# Said twice


def test_a_double_tap_with_a_time_is_answered_as_the_first(lee: Crew) -> None:
    page = card(lee, "S-014")
    lee.lee.press(page, "Into A as A001?", when="5")
    count = lee.harbour.count()
    lee.harbour.clock.wait(2)
    again = lee.lee.press(page, "Into A as A001?", when="5")
    assert again.status == 200
    assert "It was said before, and is logged once" in again.says
    assert lee.harbour.count() == count


def test_two_buttons_of_one_form_say_two_things(lee: Crew) -> None:
    shot(lee, "S-014")
    page = card(lee, "S-014")
    lee.lee.press(page, "To the cart")
    # Back in the browser, and the other button of the same form: the page is old by now.
    asked = lee.lee.press(page, "Offloaded: copied to RAID and SHUTTLE")
    assert asked.status == 409
    lee.lee.press(asked, "Offloaded: copied to RAID and SHUTTLE")
    assert lee.harbour.status("S-014") == "copied"


def test_offloaded_once_more_from_an_old_page_is_told(lee: Crew) -> None:
    shot(lee, "S-014")
    old = card(lee, "S-014")
    lee.lee.press(card(lee, "S-014"), "Offloaded: copied to RAID and SHUTTLE")
    count = lee.harbour.count()
    page = lee.lee.press(old, "Offloaded: copied to RAID and SHUTTLE")
    assert page.status == 409
    assert "Something was logged about S-014" in page.says
    assert lee.harbour.count() == count


def test_offloaded_means_the_drives_that_the_button_named(lee: Crew) -> None:
    shot(lee, "S-014")
    old = card(lee, "S-014")
    acts_drive.set_todays_drives(lee.harbour.service, KIM, ["VAULT"])
    count = lee.harbour.count()
    page = lee.lee.press(old, "Offloaded: copied to RAID and SHUTTLE")
    assert page.status == 409
    assert "Today's copies go to VAULT now." in page.says
    assert lee.harbour.count() == count


def test_a_lost_drive_of_today_is_not_offered(lee: Crew) -> None:
    shot(lee, "S-014")
    acts_drive.lose_drive(lee.harbour.service, KIM, "SHUTTLE")
    for page in (card(lee, "S-014"), lee.lee.get("/several?card=S-014")):
        assert "SHUTTLE is lost" in page.says
        assert [one for one in page.buttons if one.endswith("copied to RAID")]
    acts_drive.lose_drive(lee.harbour.service, KIM, "RAID")
    for page in (card(lee, "S-014"), lee.lee.get("/several?card=S-014")):
        assert "RAID is lost" in page.says
        assert not [one for one in page.buttons if "copied to" in one]


# Taken back


def test_what_is_taken_back_is_what_was_shown(lee: Crew) -> None:
    shown = lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(5)
    lee.lee.press(card(lee, "S-015"), "Into B slot 1 as B001?")
    page = lee.lee.press(shown, "Take this back")
    assert "it is not your last tap any more" in page.says
    assert lee.harbour.status("S-014") == "loaded"
    assert lee.harbour.status("S-015") == "loaded"


def test_the_last_tap_of_an_old_page_is_not_the_newest(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(5)
    old = lee.lee.get("/loader")
    lee.lee.press(card(lee, "S-015"), "Into B slot 1 as B001?")
    page = lee.lee.press(old, "Take back my last")
    assert "it is not your last tap any more" in page.says
    assert lee.harbour.status("S-015") == "loaded"


def test_what_gives_leave_to_format_is_not_taken_back_unasked(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(60)
    count = lee.harbour.count()
    page = lee.lee.press(lee.lee.get("/loader"), "Take back my last")
    assert "Take this back?" in page.says
    assert "S-014: Roll A001 is then no roll of this card any more." in page.says
    assert "S-014: From then on it may be formatted, in the camera." in page.says
    assert lee.harbour.count() == count
    assert lee.harbour.status("S-014") == "loaded"
    page = lee.lee.press(page, "It was a mistake: take it back")
    assert page.status == 200
    assert lee.harbour.status("S-014") == "cleared"
    assert lee.harbour.agrees()


def test_a_slip_of_the_thumb_goes_at_once(lee: Crew) -> None:
    page = lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(1)
    lee.lee.press(page, "Take this back")
    assert lee.harbour.status("S-014") == "cleared"


def test_a_card_that_was_handed_over_by_mistake_goes_back_at_any_time(lee: Crew) -> None:
    shot(lee, "S-014")
    lee.lee.press(card(lee, "S-014"), "To the cart")
    lee.harbour.clock.wait(60)
    page = lee.lee.press(lee.lee.get("/loader"), "Take back my last")
    assert "Take this back?" not in page.says


# What is said of copies


def test_a_copy_on_a_lost_drive_is_said_not_to_count(lee: Crew) -> None:
    shot(lee, "S-014")
    for drive in ("RAID", "SHUTTLE"):
        acts_copies.copy_finished(lee.harbour.service, KIM, "S-014", drive)
    acts_drive.lose_drive(lee.harbour.service, KIM, "SHUTTLE")
    page = card(lee, "S-014")
    assert "SHUTTLE: claimed, does not count: nobody knows where the drive is" in page.says


def test_several_do_not_say_that_nothing_is_owed_of_a_roll_below_the_rule(lee: Crew) -> None:
    shot(lee, "S-014")
    lee.lee.press(card(lee, "S-014"), "Offloaded: copied to RAID and SHUTTLE")
    page = lee.lee.get("/several?card=S-014&card=S-015")
    assert "still to be copied" not in page.says
    assert "Not backed up: S-014 (A001?)." in page.says
    page = lee.lee.get("/several?card=S-015")
    assert "Nothing on it is still to be copied." in page.says


# The plan of the morning


def test_an_old_form_does_not_overwrite_the_plan_of_somebody_else(crew: Crew) -> None:
    old = crew.kim.get("/morning")
    crew.kim.press(crew.kim.get("/morning"), "Commit the plan", **{"A/slot/1": ""})
    count = crew.harbour.count()
    asked = crew.kim.press(old, "Commit the plan")
    assert asked.status == 409
    assert "Another plan of this day was committed" in asked.says
    assert crew.harbour.count() == count
    done = crew.kim.press(asked, "Commit the plan")
    assert done.status == 200
    assert crew.harbour.count() == count + 1


def test_a_plan_committed_between_the_look_and_the_writing_is_asked_about(crew: Crew) -> None:
    service = crew.harbour.service
    seen = morning.morning(service)
    assert seen is not None
    lines = planning.begin(seen)
    planning.commit(service, KIM, seen, lines, tap=new_id())
    with pytest.raises(AskAgain):
        planning.commit(service, KIM, seen, lines, tap=new_id())


def test_a_call_from_an_old_page_is_asked_again(crew: Crew) -> None:
    old = crew.kim.get("/morning")
    crew.kim.press(crew.kim.get("/morning"), "Call the main unit")
    count = crew.harbour.count()
    page = crew.kim.press(old, "Call the main unit")
    assert page.status == 409
    assert "Nothing was logged" in page.says
    assert crew.harbour.count() == count
