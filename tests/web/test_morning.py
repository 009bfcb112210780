"""A data manager's morning: choose the cards, commit the plan, call the unit, print the sheet."""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Callable
from datetime import time
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from tests.services.harbour import GB, KIM, Clock
from tests.web.visitor import Crew, Page, Visitor, token_for
from tracker.domain.facts import PlanCommitted
from tracker.services import acts_camera, acts_card, acts_copies, acts_day, acts_drive
from tracker.services.production import set_up
from tracker.services.service import Service
from tracker.store import now_lists
from tracker.store.engine import Store
from tracker.web.app import create_app


def plans(crew: Crew) -> list[PlanCommitted]:
    with crew.harbour.service.store.reading() as conn:
        return now_lists.plans(conn)


def lines(crew: Crew) -> list[tuple[Any, ...]]:
    """The lines of the plan committed last: camera, slot, card."""
    return [(line["camera"], line.get("slot"), line["card"]) for line in plans(crew)[-1].lines]


def chosen(page: Page) -> dict[str, str]:
    fields = page.form("Commit the plan").fields
    return {name: value for name, value in fields.items() if "/slot/" in name or "/spare/" in name}


def next_morning(crew: Crew) -> None:
    crew.harbour.clock.wait(24 * 60)


def test_every_slot_is_proposed_a_card_and_the_spares_get_what_is_left(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    assert chosen(page) == {
        "A/slot/1": "S-014",
        "A/spare/1": "",
        "B/slot/1": "S-015",
        "B/slot/2": "S-016",
        "B/spare/1": "",
    }
    assert "Fewest fillings (0)." in page.says
    assert "No card that fits is ready." in page.says


def test_the_plan_is_committed_and_taken_back(crew: Crew) -> None:
    page = crew.kim.press(crew.kim.get("/morning"), "Commit the plan")
    assert "Plan for 2026-03-02 committed, 3 lines." in page.says
    assert "by Kim" in page.says
    assert page.says.count("not loaded yet") == 3
    plan = plans(crew)[-1]
    assert (plan.unit, plan.day) == ("main", "2026-03-02")
    assert lines(crew) == [("A", 1, "S-014"), ("B", 1, "S-015"), ("B", 2, "S-016")]
    assert plan.lines[0]["reason"] == "fewest fillings (0)"
    crew.kim.press(page, "Take this back")
    assert plans(crew) == []
    assert "No plan is committed" in crew.kim.get("/morning").says
    assert crew.harbour.agrees()


def test_a_form_that_is_sent_twice_commits_once(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    crew.kim.press(page, "Commit the plan")
    again = crew.kim.press(page, "Commit the plan")
    assert "3 lines" in again.says
    assert len(plans(crew)) == 1


def test_a_card_in_two_places_is_a_fault_that_names_both_lines(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    wrong = crew.kim.press(page, "Commit the plan", **{"B/slot/2": "S-014"})
    assert wrong.status == 400
    assert "Camera B, slot 2: found S-014, which is also on the line of camera A, slot 1" in (
        wrong.says
    )
    assert chosen(wrong)["B/slot/2"] == "S-014"
    assert plans(crew) == []
    mended = crew.kim.press(wrong, "Commit the plan", **{"B/slot/2": ""})
    assert "2 lines" in mended.says
    assert crew.kim.at.startswith("/morning?unit=main")


def test_no_card_at_all_is_no_plan(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    none = dict.fromkeys(chosen(page), "")
    assert "expected a card for at least one slot" in (
        crew.kim.press(page, "Commit the plan", **none).says
    )
    assert plans(crew) == []


def test_a_label_that_no_card_has_is_a_fault_with_the_nearest(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    wrong = crew.kim.press(page, "Commit the plan", **{"A/slot/1": "S-0144"})
    assert "expected the label of a card" in wrong.says
    assert plans(crew) == []


def test_a_card_that_was_shot_is_asked_about_with_its_roll_and_committed(crew: Crew) -> None:
    acts_camera.load(crew.harbour.service, KIM, "S-014", "A", roll="A001")
    crew.harbour.clock.wait()
    acts_camera.pull(crew.harbour.service, KIM, "S-014")
    page = crew.kim.get("/morning")
    assert "S-014" not in chosen(page).values()
    assert "It holds roll A001, which is not backed up" in page.says
    asked = crew.kim.press(page, "Commit the plan", **{"A/slot/1": "S-014"})
    assert "Commit it all the same?" in asked.says
    assert "DO NOT FORMAT" in asked.says
    assert "roll A001 has no copy that counts; the rule asks for 2" in asked.says
    assert plans(crew) == []
    done = crew.kim.press(asked, "Commit it all the same")
    assert "Not as planned:" in done.says
    assert "DO NOT FORMAT" in done.says
    assert "although it holds roll A001" in plans(crew)[-1].lines[0]["reason"]


def test_whoever_goes_back_from_the_question_keeps_the_choices(crew: Crew) -> None:
    acts_card.set_aside(crew.harbour.service, KIM, "S-016", "bent pins")
    page = crew.kim.get("/morning")
    asked = crew.kim.press(page, "Commit the plan", **{"B/slot/2": "S-016"})
    back = crew.kim.press(asked, "Back to the choices")
    assert chosen(back)["B/slot/2"] == "S-016"
    assert "Should not be loaded here. It is set aside: bent pins" in back.says
    assert plans(crew) == []


def test_what_became_worse_since_the_question_is_asked_again(crew: Crew) -> None:
    acts_card.set_aside(crew.harbour.service, KIM, "S-016", "bent pins")
    page = crew.kim.get("/morning")
    asked = crew.kim.press(page, "Commit the plan", **{"B/slot/2": "S-016"})
    acts_card.report_missing(crew.harbour.service, KIM, "S-014")
    again = crew.kim.press(asked, "Commit it all the same")
    assert "it is reported missing" in again.says.lower()
    assert plans(crew) == []
    crew.kim.press(again, "Commit it all the same")
    assert len(plans(crew)) == 1


def test_media_and_speed_speak_against_one_camera(crew: Crew) -> None:
    service = crew.harbour.service
    acts_day.set_camera(service, KIM, "A", "main", takes="compact card")
    acts_card.register_card(service, KIM, "F-001", "compact card", 256 * GB)
    acts_card.check_in(service, KIM, "F-001", "empty")
    page = crew.kim.get("/morning")
    assert chosen(page)["A/slot/1"] == "F-001"
    says = "It is a 2.5in SSD; camera A takes compact card: take another card. S-014, S-015, S-016"
    assert says in page.says
    assert "Not to load into any camera" not in page.says


def test_everything_that_no_camera_should_take_is_shown_with_its_reason(crew: Crew) -> None:
    service = crew.harbour.service
    acts_card.retire(service, KIM, "S-014", "worn")
    acts_card.take_in_visiting(service, KIM, "V-001", "2.5in SSD", 500 * GB, owner="another crew")
    acts_camera.load(service, KIM, "S-015", "A")
    says = crew.kim.get("/morning").says
    assert "S-014: It is retired (worn): take another card." in says
    assert "V-001: It is somebody else's card" in says
    assert "S-015: It is in camera A: pull it first." not in says  # in it for today, and stays
    assert "In it now: S-015, roll A001?" in says


def test_yesterdays_plan_is_proposed_again_where_its_cards_are_ready(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    crew.kim.press(
        page, "Commit the plan",
        **{"A/slot/1": "S-016", "B/slot/1": "S-015", "B/slot/2": "S-014"},
    )  # fmt: skip
    acts_card.set_aside(crew.harbour.service, KIM, "S-015", "bent pins")
    next_morning(crew)
    page = crew.kim.get("/morning")
    assert chosen(page) == {"A/slot/1": "S-016", "B/slot/1": "", "B/slot/2": "S-014"}
    assert page.says.count("Same as yesterday.") == 2
    next_morning(crew)
    assert "Same as on 2026-03-02." in crew.kim.get("/morning").says


def test_more_spares_are_looked_at_before_they_are_committed(crew: Crew) -> None:
    for label in ("S-020", "S-021"):
        acts_card.register_card(crew.harbour.service, KIM, label, "2.5in SSD", 1_000 * GB)
        acts_card.check_in(crew.harbour.service, KIM, label, "empty")
    page = crew.kim.get("/morning")
    more = crew.kim.press(page, "Commit the plan", **{"A/spares": "2", "B/spare/1": ""})
    assert plans(crew) == []
    assert chosen(more)["A/spare/1"] == "S-020"
    assert chosen(more)["A/spare/2"] == "S-021"
    done = crew.kim.press(more, "Commit the plan")
    assert "5 lines" in done.says
    assert lines(crew)[1] == ("A", None, "S-020")
    assert crew.kim.press(page, "Commit the plan", **{"A/spares": "10"}).status == 400


def test_looking_over_commits_nothing(crew: Crew) -> None:
    looked = crew.kim.press(crew.kim.get("/morning"), "Look over, commit nothing")
    assert "Nothing speaks against these choices. Nothing is committed yet." in looked.says
    assert plans(crew) == []


def test_another_card_than_planned_shows(crew: Crew) -> None:
    crew.kim.press(crew.kim.get("/morning"), "Commit the plan")
    crew.harbour.clock.wait()
    acts_camera.load(crew.harbour.service, KIM, "S-015", "A", roll="A001")
    says = crew.kim.get("/morning").says
    assert "S-015 is in camera A; the plan says S-014" in says
    assert "Not as planned: in camera A, roll A001" in says
    crew.harbour.clock.wait()
    acts_camera.pull(crew.harbour.service, KIM, "S-015")
    assert "status: shot, not copied" in crew.kim.get("/morning").says


def test_a_unit_is_called_and_wrapped_with_its_day_number(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    assert "Nobody logged a call or a wrap" in page.says
    called = crew.kim.press(page, "Call the main unit", day_number="7", when="15")
    assert "Main unit called, day 7, 09:55, 15 min ago." in called.says
    assert called.form("The main unit wrapped").fields["day_number"] == "7"
    crew.harbour.clock.wait(600)
    wrapped = crew.kim.press(
        crew.kim.get("/morning"), "The main unit wrapped", at="2026-03-02T19:30"
    )
    assert "Main unit wrapped, day 7, 19:30" in wrapped.says
    assert wrapped.form("Call the main unit").fields["day_number"] == "8"


def test_a_call_that_nobody_wrapped_is_said_the_next_morning(crew: Crew) -> None:
    acts_day.call_unit(crew.harbour.service, KIM, "main")
    next_morning(crew)
    says = crew.kim.get("/morning").says
    assert "nobody said that it wrapped. Until then it is still shooting day 2026-03-02" in says


def test_cards_loaded_for_today_stay_where_they_are(crew: Crew) -> None:
    service = crew.harbour.service
    acts_day.call_unit(service, KIM, "main")
    acts_camera.load(service, KIM, "S-016", "B", roll="B001", slot=2)
    crew.harbour.clock.wait()
    assert chosen(crew.kim.get("/morning"))["B/slot/2"] == "S-016"
    acts_day.wrap_unit(service, KIM, "main")
    next_morning(crew)
    page = crew.kim.get("/morning")
    assert "S-016" not in chosen(page).values()
    assert "In it now, slot 2: S-016, roll B001" in page.says


def test_a_card_of_another_units_plan_is_not_planned_twice(crew: Crew) -> None:
    acts_day.set_camera(crew.harbour.service, KIM, "C", "second")
    crew.kim.press(crew.kim.get("/morning"), "Commit the plan", **{"B/slot/2": ""})
    page = crew.kim.get("/morning?unit=second")
    assert chosen(page) == {"C/slot/1": "S-016", "C/spare/1": ""}
    wrong = crew.kim.press(page, "Commit the plan", **{"C/slot/1": "S-014"})
    assert "S-014, which is also planned for camera A, slot 1 of the main unit" in wrong.says
    assert crew.kim.get("/morning?unit=third").status == 404


def test_todays_drives_are_shown_and_those_of_yesterday_doubted(crew: Crew) -> None:
    assert "No drive is chosen" in crew.kim.get("/morning").says
    acts_drive.set_todays_drives(crew.harbour.service, KIM, ["RAID", "SHUTTLE"])
    page = crew.kim.get("/morning")
    assert "RAID, chosen 10:10" in page.says
    assert "/drives/SHUTTLE" in page.read.links
    next_morning(crew)
    assert "not today" in crew.kim.get("/morning").says


@pytest.mark.parametrize("name", ["lee", "pat"])
def test_a_loader_and_the_office_look_and_print_and_commit_nothing(crew: Crew, name: str) -> None:
    crew.kim.press(crew.kim.get("/morning"), "Commit the plan")
    someone = getattr(crew, name)
    page = someone.get("/morning")
    assert "by Kim" in page.says
    assert page.buttons == ["Find"]
    assert "S-014" in someone.get("/morning/sheet").says
    token = crew.tokens[name.capitalize()]
    key = hmac.new(token.encode(), b"form", hashlib.sha256).hexdigest()
    for address in ("plan", "call", "wrap"):
        refused = someone.send(f"/morning/{address}", {"unit": "main", "form_key": key})
        assert refused.status == 403
        assert "may not do this" in refused.says
    assert len(plans(crew)) == 1


def test_a_large_pool_makes_short_lists_and_every_card_is_a_link_away(
    crew: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tracker.web.pages.morning.MOST_CHOICES", 2)
    short = crew.kim.get("/morning")
    assert short.answer.text.count('value="S-016"') == 1  # where it is proposed
    assert "Each list has the 2 cards that come first." in short.says
    every = crew.kim.get("/morning?unit=main&all=1")
    assert every.answer.text.count('value="S-016"') == 5


def test_an_address_that_only_takes_forms_leads_back_to_the_morning(crew: Crew) -> None:
    assert "Morning of the main unit" in crew.kim.get("/morning/plan").says
    assert crew.nobody.get("/morning").status == 200
    assert "Your passphrase" in crew.nobody.get("/morning/sheet").says


def test_a_production_without_cameras_says_so(new_store: Callable[..., Store]) -> None:
    service = Service(new_store("sqlite"), Clock())
    set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5))
    kim = Visitor(create_app(service, {}.get), token_for(service, "Kim", "data manager"))
    assert "No camera is described yet" in kim.get("/morning").says
    assert "No camera is described yet" in kim.get("/morning/sheet").says


def test_the_sheet_names_what_comes_and_what_may_not_be_formatted(crew: Crew) -> None:
    service = crew.harbour.service
    crew.kim.press(crew.kim.get("/morning"), "Commit the plan")
    says = crew.pat.get("/morning/sheet?unit=main").says
    assert "Harbour · main unit · 2026-03-02" in says
    assert "A slot 1 S-014 A001?" in says
    assert "Tape on: do not format" in says
    assert "Unmount before pulling" in says
    crew.harbour.clock.wait()
    acts_camera.load(service, KIM, "S-014", "A", roll="A001")
    crew.harbour.clock.wait()
    acts_camera.pull(service, KIM, "S-014")
    acts_copies.copy_finished(service, KIM, "S-014", "RAID")
    sheet = crew.pat.get("/morning/sheet").says
    assert "S-014 DO NOT FORMAT A001" in sheet
    assert "may be formatted" not in sheet.replace("sees that a card may be formatted", "")


def test_a_wrap_before_its_call_is_asked_again(crew: Crew) -> None:
    page = crew.kim.press(crew.kim.get("/morning"), "Call the main unit")
    crew.harbour.clock.wait(10)
    said = crew.kim.press(crew.kim.get("/morning"), "The main unit wrapped", when="30")
    assert said.status == 409
    assert "Nothing was logged." in said.says
    assert "a time after that: Main unit called" in said.says
    page = crew.kim.press(said, "The main unit wrapped", when="5")
    assert "Call the main unit" in page.buttons
    crew.harbour.clock.wait(1)
    said = crew.kim.press(page, "Call the main unit", when="30")
    assert "a time after that: Main unit wrapped" in said.says
