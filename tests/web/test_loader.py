"""A loader's day by short codes and camera letters: swap, out, to the cart, offloaded, back."""

from __future__ import annotations

import pytest

from tests.services.harbour import KIM
from tests.web.visitor import Crew, Page
from tracker.domain.facts import Fact
from tracker.services import acts_camera, acts_card, acts_clearing, acts_drive, codes


@pytest.fixture
def lee(crew: Crew) -> Crew:
    """Lee, on a morning on which today's drives are set."""
    acts_drive.set_todays_drives(crew.harbour.service, KIM, ["RAID", "SHUTTLE"])
    return crew


def code(crew: Crew, label: str) -> str:
    found = codes.by_label(crew.harbour.service, label)
    assert found is not None and found.code is not None
    return found.code


def card(crew: Crew, label: str) -> Page:
    return crew.lee.get(f"/c/{code(crew, label)}")


def last(crew: Crew, label: str) -> Fact:
    return crew.harbour.facts(label)[-1]


def test_a_card_that_may_go_in_does_so_with_one_tap(lee: Crew) -> None:
    page = card(lee, "S-014")
    assert "may be formatted" in page.says
    page = lee.lee.press(page, "Into A as A001?")
    assert "S-014: Loaded into camera A as A001?" in page.says
    assert lee.harbour.status("S-014") == "loaded"
    assert lee.harbour.agrees()


def test_the_swap_takes_out_what_is_in_and_is_one_tap_to_take_back(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(60)
    page = lee.lee.press(card(lee, "S-015"), "Into A as A002?, S-014 comes out")
    assert lee.harbour.status("S-014") == "exposed"
    assert lee.harbour.status("S-015") == "loaded"
    assert "Take this back" in page.buttons
    # All day, not only on the page that tells what was logged.
    lee.lee.press(card(lee, "S-016"), "Take back my last")
    assert lee.harbour.status("S-014") == "loaded"
    assert lee.harbour.status("S-015") == "cleared"


def test_a_form_that_is_sent_twice_logs_once(lee: Crew) -> None:
    page = card(lee, "S-014")
    lee.lee.press(page, "Into A as A001?", when="5")
    count = lee.harbour.count()
    lee.harbour.clock.wait(1)
    page = lee.lee.press(page, "Into A as A001?", when="5")
    assert page.status == 200
    assert lee.harbour.count() == count


def test_nobody_taps_at_the_moment_it_happens(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?", when="15")
    assert last(lee, "S-014").occurred_at == lee.harbour.clock.ago(15)


def test_a_card_in_a_camera_is_reached_by_the_cameras_letter(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(30)
    page = lee.lee.get("/camera/a")
    assert "In for 30 min" in page.says
    assert "Unmount in the camera before pulling" in page.says
    lee.lee.press(page, "S-014 out of A")
    assert lee.harbour.status("S-014") == "exposed"


def test_what_comes_out_is_never_offered_a_format(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    page = card(lee, "S-014")
    assert "Out of A" in page.buttons
    assert not [one for one in page.buttons if one.startswith("Into")]
    assert "formatted" not in page.form("Out of A").fields


def shot(crew: Crew, label: str) -> None:
    """A card comes out, shot."""
    crew.lee.press(card(crew, label), f"Into A as {'A001?'}")
    crew.harbour.clock.wait(30)
    crew.lee.press(card(crew, label), "Out of A")
    crew.harbour.clock.wait(5)


def test_offloaded_is_honest(lee: Crew) -> None:
    shot(lee, "S-014")
    page = card(lee, "S-014")
    assert "DO NOT FORMAT" in page.says
    assert "shot, not copied" in page.says
    assert "leave the tape on" in page.says
    lee.lee.press(page, "Offloaded: copied to RAID and SHUTTLE")
    assert lee.harbour.status("S-014") == "copied"
    page = card(lee, "S-014")
    assert "DO NOT FORMAT" in page.says
    assert "A001? not backed up: 0 of 2 copies count (RAID: claimed; SHUTTLE: claimed)" in page.says
    # Said once more, it would say nothing new.
    assert not [one for one in page.buttons if one.startswith("Offloaded")]
    assert "Copied, not checked: leave the tape on" in page.says


def test_without_drives_for_today_it_says_who_sets_them(crew: Crew) -> None:
    shot(crew, "S-014")
    page = card(crew, "S-014")
    assert not [one for one in page.buttons if one.startswith("Offloaded")]
    assert "a data manager sets them" in page.says


def test_a_shot_card_is_not_offered_to_a_camera_and_says_why(lee: Crew) -> None:
    shot(lee, "S-014")
    page = card(lee, "S-014")
    assert not [one for one in page.buttons if one.startswith("Into")]
    assert "it holds roll A001, which is not backed up" in page.says


def test_several_cards_go_to_the_cart_with_one_tap(lee: Crew) -> None:
    shot(lee, "S-014")
    page = lee.lee.get("/several")
    page = lee.lee.get(f"/several?add={code(lee, 'S-014').lower()}")
    page = lee.lee.get(f"/several?card=S-014&add=http://box.local/c/{code(lee, 'S-015')}")
    page = lee.lee.get("/several?card=S-014&card=S-015&add=S-014")
    assert "S-014 offloaded: copied to RAID and SHUTTLE" in page.buttons
    lee.lee.press(page, "All 2 go to the cart")
    for label in ("S-014", "S-015"):
        assert last(lee, label).event == "handed_over"
    assert "The cart, for" in card(lee, "S-014").says


def test_a_mistyped_card_among_several_keeps_the_others(lee: Crew) -> None:
    page = lee.lee.get("/several?card=S-014&add=S-099")
    assert page.status == 404
    assert "S-014" in page.says
    assert "are kept" in page.says


@pytest.mark.parametrize("typed", ["2222", "ABC", "0ABC", "ABCDE", "a/b"])
def test_a_mistyped_code_is_said_to_be_one(lee: Crew, typed: str) -> None:
    assert typed.upper() not in {code(lee, label) for label in ("S-014", "S-015", "S-016")}
    page = lee.lee.get(f"/c/{typed}")
    assert page.status == 404


def test_paths_match_in_any_case(lee: Crew) -> None:
    found = code(lee, "S-014")
    for path in (f"/C/{found}", f"/c/{found.lower()}"):
        assert "S-014" in lee.lee.get(path).says


def test_a_code_of_a_drive_leads_to_the_drive(lee: Crew) -> None:
    found = codes.code_for_drive(lee.harbour.service, "RAID")
    lee.lee.get(f"/c/{found}")
    assert lee.lee.at == "/drives/RAID"


def test_a_code_stays_when_the_label_changes(lee: Crew) -> None:
    before = code(lee, "S-014")
    acts_card.relabel(lee.harbour.service, KIM, "S-014", "T-014")
    assert code(lee, "T-014") == before
    assert "T-014" in lee.lee.get(f"/c/{before}").says


def test_a_card_that_is_probably_out_is_told_as_shot(lee: Crew) -> None:
    acts_camera.load(lee.harbour.service, KIM, "S-014", "A", formatted=True)
    lee.harbour.clock.wait(30)
    acts_camera.load(lee.harbour.service, KIM, "S-015", "A", formatted=True)
    page = card(lee, "S-014")
    assert "DO NOT FORMAT" in page.says
    assert "probably out" in page.says
    assert "Out of A, yes: it is out" in page.buttons


def test_missing(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-016"), "Nobody knows where it is", place="behind the van")
    assert lee.harbour.status("S-016") == "missing"
    assert "last seen at behind the van" in card(lee, "S-016").says

    assert card(lee, "S-016").says.count("When did it happen?") == 1
    page = lee.lee.press(card(lee, "S-016"), "It is here again", place="the truck")
    assert "S-016: Found at the truck" in page.says
    assert lee.harbour.status("S-016") == "cleared"


def test_the_production_office_looks_and_does_not_tap(lee: Crew) -> None:
    page = lee.pat.get(f"/c/{code(lee, 'S-014')}")
    assert page.status == 200
    assert not [one for one in page.buttons if one.startswith(("Into", "Offloaded"))]


def test_a_cleared_card_is_formatted_as_it_goes_in_unless_they_say_otherwise(lee: Crew) -> None:
    shot(lee, "S-014")
    lee.harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_clearing.clear(lee.harbour.service, KIM, "S-014")
    page = card(lee, "S-014")
    assert "may be formatted" in page.says
    lee.lee.press(page, "Into A as A002?", formatted=None)
    assert getattr(last(lee, "S-014"), "formatted", None) is False


def test_in_a_camera_of_two_slots_each_has_its_button(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into B slot 1 as B001?")
    lee.harbour.clock.wait(1)
    page = lee.lee.get("/camera/B")
    assert "1 of its 2 slots is free" in page.says
    page = card(lee, "S-015")
    assert "Into B slot 1 as B002?, S-014 comes out" in page.buttons
    page = lee.lee.press(page, "Into B slot 2 as B002?", **{"as": "mirror"})
    assert "Loaded into camera B, slot 2 as B001?, mirror" in page.says
    assert (lee.harbour.status("S-014"), lee.harbour.status("S-015")) == ("loaded", "loaded")
    assert lee.harbour.agrees()


@pytest.mark.parametrize(
    "wrong", [{"into": "A"}, {"into": "x/A"}, {"into": "1/B", "as": "else"}, {"into": "1/"}]
)
def test_a_form_that_no_page_made_logs_nothing(lee: Crew, wrong: dict[str, str]) -> None:
    form = card(lee, "S-014").form("Into A as A001?")
    before = lee.harbour.count()
    page = lee.lee.send(f"/c/{code(lee, 'S-014')}/into", {**form.fields, **wrong})
    assert (page.status, lee.harbour.count()) == (400, before)


def test_a_card_that_is_in_all_the_same_is_said_to_be(lee: Crew) -> None:
    acts_camera.load(lee.harbour.service, KIM, "S-014", "A", formatted=True)
    lee.harbour.clock.wait(30)
    acts_camera.load(lee.harbour.service, KIM, "S-015", "A", formatted=True)
    lee.harbour.clock.wait(1)
    assert "S-014 is still in A" in lee.lee.get("/camera/A").buttons
    lee.lee.press(card(lee, "S-014"), "No: it is still in A")
    assert "probably out" not in card(lee, "S-014").says
    assert "probably out" in card(lee, "S-015").says
    assert lee.harbour.mishaps("S-014") == []


def test_a_card_that_may_still_be_rescued_is_offered_to_no_camera(lee: Crew) -> None:
    shot(lee, "S-014")
    acts_card.check_in(lee.harbour.service, KIM, "S-014", "empty")
    page = card(lee, "S-014")
    assert "DO NOT FORMAT" in page.says
    assert "may be formatted" not in page.says.lower().partition("tape rule")[0]
    assert not [one for one in page.buttons if one.startswith("Into")]


def test_a_card_formatted_elsewhere_goes_in_and_is_said_to_want_a_format(lee: Crew) -> None:
    acts_camera.format_in_camera(lee.harbour.service, KIM, "S-014", camera="B")
    page = card(lee, "S-014")
    assert "Camera A: it was last formatted in camera B. Format it in this camera." in page.says
    lee.lee.press(page, "Into A as A001?", formatted="on")
    assert getattr(last(lee, "S-014"), "formatted", None) is True


def test_a_card_in_a_camera_and_a_drive_are_not_among_several(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    raid = codes.code_for_drive(lee.harbour.service, "RAID")
    page = lee.lee.get(f"/several?card=S-014&card=S-015&add={raid}")
    assert "RAID is a drive: only cards go into this list." in page.says
    assert "S-014 is in camera A, as was said" in page.says
    assert "It goes to the cart" in page.buttons
    assert not [one for one in page.buttons if "ffloaded" in one]
    lee.lee.press(page, "It goes to the cart")
    assert lee.harbour.mishaps("S-014") == []


def test_one_is_left_out_of_several_and_the_link_of_a_label_is_in_capitals(lee: Crew) -> None:
    scanned = f"HTTP://BOX.LOCAL/C/{code(lee, 'S-015')}"
    page = lee.lee.get(f"/several?card=S-014&add={scanned}")
    assert "All 2 go to the cart" in page.buttons
    assert "/several?card=S-015" in page.read.links
    assert "It goes to the cart" in lee.lee.get("/several?card=S-015").buttons


def test_more_than_go_with_one_tap_are_named(lee: Crew) -> None:
    page = lee.lee.get("/several?" + "&".join(["card=S-014"] * 40) + "&add=S-015")
    assert "S-015: no more than 40 go with one tap." in page.says


def test_after_one_tap_was_taken_back_the_one_before_can_be(lee: Crew) -> None:
    lee.lee.press(card(lee, "S-014"), "Into A as A001?")
    lee.harbour.clock.wait(5)
    page = lee.lee.press(card(lee, "S-014"), "Out of A")
    page = lee.lee.press(page, "Take this back")
    assert lee.harbour.status("S-014") == "loaded"
    # What was shot meanwhile would be known to nobody: it is asked.
    page = lee.lee.press(page, "Take back my last")
    lee.lee.press(page, "It was a mistake: take it back")
    assert lee.harbour.status("S-014") == "cleared"


def test_damage_is_said_on_a_form_one_tap_away(lee: Crew) -> None:
    page = card(lee, "S-014")
    (link,) = [one for one in page.read.links if "damage" in one]
    page = lee.lee.get(link)
    assert page.status == 200
    (button,) = [one for one in page.buttons if "damage" in one.lower()]
    page = lee.lee.press(page, button, part="connector", severity="2", text="a pin is bent")
    assert last(lee, "S-014").event == "damage_noted"
    assert "a pin is bent" in page.says
