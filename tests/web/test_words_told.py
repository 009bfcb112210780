"""What was logged is told in one wording: on the page after a tap, and in every history."""

from __future__ import annotations

from tests.services.harbour import KIM, LEE
from tests.web.visitor import Crew
from tracker.services import acts_back, acts_camera, acts_card, acts_drive


def test_what_was_taken_back_is_named(crew: Crew) -> None:
    acts_camera.load(crew.harbour.service, LEE, "S-014", "A", roll="A001")
    acts_back.take_back_last(crew.harbour.service, LEE)
    says = crew.kim.get("/cards/S-014").says
    assert "(it said: loaded into camera A as A001)" in says


def test_the_page_after_taking_back_names_it_and_so_does_restoring_it(crew: Crew) -> None:
    page = crew.kim.press(crew.kim.get("/drive/fail/VAULT"), "Log it as failed")
    page = crew.kim.press(page, "Take this back")
    assert "mistake: taken back (it said: drive VAULT failed)" in page.says
    assert "(it said: drive VAULT failed)" in crew.kim.get("/drives/VAULT").says


def test_a_unit_is_named_once(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    page = crew.kim.press(page, "Call the main unit")
    assert "Main unit called" in page.says
    assert "Main: Main" not in page.says


def test_a_place_and_a_holder_of_the_same_word_are_said_once(crew: Crew) -> None:
    service = crew.harbour.service
    acts_card.hand_over(service, LEE, ["S-014"], "the cart", "cart")
    acts_card.hand_over(service, LEE, ["S-015"], "Noor", "cart")
    for says in (crew.kim.get("/cards/S-014").says, crew.kim.get("/now?status=ready").says):
        assert "he cart" in says
        assert "cart, cart" not in says
        assert "(cart)" not in says.replace("Noor (cart)", "")
    assert "Noor (cart)" in crew.kim.get("/cards/S-015").says


def test_nobody_is_sent_to_ask_somebody_of_their_own_role(crew: Crew) -> None:
    page = crew.kim.get("/people")
    assert "Your role, data manager, may not do this. Ask an administrator." in page.says
    page = crew.lee.get("/drive/lose/RAID")
    assert "Ask a data manager or an administrator." in page.says
    page = crew.pat.get("/cards/S-014?act=load")
    assert "Ask a data manager, a loader or an administrator." in page.says


def test_a_lost_drive_is_on_set_no_more(crew: Crew) -> None:
    harbour = crew.harbour
    acts_camera.swap(harbour.service, LEE, "S-014", "A")
    harbour.clock.wait(30)
    acts_camera.pull(harbour.service, LEE, "S-014")
    harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_drive.lose_drive(harbour.service, KIM, "RAID")
    for path in ("/cards/S-014", "/now?show=below", "/drives", "/drives/RAID"):
        assert "lost, last on set" in crew.kim.get(path).says, path
