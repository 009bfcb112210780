"""What is owed, as people see it and answer it: I have it, later, our limits, yours now."""

from __future__ import annotations

from tests.services.harbour import KIM
from tests.web.test_loader import shot
from tests.web.visitor import Crew, Visitor, token_for
from tracker.reminders.notices import tick
from tracker.services import acts_drive


def owing(crew: Crew) -> None:
    """A card that was shot at work, and that nobody copied for four hours."""
    acts_drive.set_todays_drives(crew.harbour.service, KIM, ["RAID", "SHUTTLE"])
    crew.kim.press(crew.kim.get("/morning"), "Call the main unit")
    shot(crew, "S-014")
    tick(crew.harbour.service)
    crew.harbour.clock.wait(4 * 60)
    tick(crew.harbour.service)


def test_nothing_is_owed_on_the_first_morning(crew: Crew) -> None:
    tick(crew.harbour.service)
    page = crew.lee.get("/reminders")
    assert "No reminder is due now. No roll is below the backup rule" in page.says
    assert "No reminders go out" not in page.says


def test_a_clock_that_stands_still_is_said_everywhere(crew: Crew) -> None:
    tick(crew.harbour.service)
    crew.harbour.clock.wait(5)
    assert "No reminders go out." in crew.lee.get("/reminders").says
    assert "No reminders go out" in crew.lee.get("/now").says


def test_what_is_owed_says_by_whom_since_when_and_when_next(crew: Crew) -> None:
    owing(crew)
    says = crew.lee.get("/reminders").says
    assert "S-014" in says
    assert "exposed too long" in says
    assert "Told: Lee" in says
    assert "Next notice:" in says


def test_i_have_it_is_said_with_a_name_and_given_back(crew: Crew) -> None:
    owing(crew)
    page = crew.lee.get("/reminders")
    button = next(one for one in page.buttons if one.startswith("I have it"))
    page = crew.lee.press(page, button)
    assert "It is yours" in page.says
    assert "Lee has it" in crew.kim.get("/reminders").says
    back = next(one for one in page.buttons if one.startswith("Give it back"))
    assert "Lee has it" not in crew.lee.press(page, back).says


def test_later_needs_a_reason_and_an_end_and_can_be_ended(crew: Crew) -> None:
    owing(crew)
    page = crew.kim.get("/reminders")
    assert "Hold it back" not in crew.lee.get("/reminders").buttons
    wrong = crew.kim.press(page, "Hold it back", reason=" ")
    assert wrong.status == 400
    page = crew.kim.press(page, "Hold it back", reason="the cart moves", minutes="180")
    assert "It is held back." in page.says
    assert "Kim: the cart moves" in page.says
    ends = next(one for one in page.buttons if one.startswith("Let it go again"))
    page = crew.kim.press(page, ends)
    assert "Held back" not in page.says


def test_a_rule_is_set_and_its_history_kept(crew: Crew) -> None:
    owing(crew)
    page = crew.kim.get("/reminders/rules")
    assert "Nobody has set anything" in page.says
    assert "Today it says: 1" in page.says
    button = "Set this rule so: exposed too long"
    assert button not in crew.lee.get("/reminders/rules").buttons
    page = crew.kim.press(page, button, after="6")
    assert "After 6 h in shooting hours" in page.says
    assert "Kim (version 1)" in page.says
    assert "exposed too long" not in crew.lee.get("/reminders").says
    wrong = crew.kim.press(page, button, after="soon")
    assert wrong.status == 400
    assert "expected hours, as 2 or 0.5" in wrong.says


def test_what_holds_for_all_rules_is_set(crew: Crew) -> None:
    page = crew.kim.press(
        crew.kim.get("/reminders/rules"), "Set it so",
        habit="night", morning_list="06:30", quiet_start="22:00", quiet_end="06:00",
        escalate_after="",
    )  # fmt: skip
    for words in ("in the night", "06:30", "22:00 to 06:00", "does not go on to others"):
        assert words in page.says


def test_what_went_out_is_listed_with_its_state(crew: Crew) -> None:
    owing(crew)
    page = crew.kim.get("/reminders/outbox")
    assert "waiting to go" in page.says
    assert "exposed too long (notice 2, with 1 that did not go out before)" in page.says
    assert crew.lee.get("/reminders/outbox").status == 403
    assert "exposed too long" not in crew.kim.get("/reminders/outbox?state=sent").says


def test_a_shift_is_offered_with_its_list_and_accepted(crew: Crew) -> None:
    owing(crew)
    noor = Visitor(crew.app, token_for(crew.harbour.service, "Noor", "data manager"))
    page = crew.kim.get("/shift")
    assert "S-014" in page.says
    taker = page.form("Offer it, with this list").fields["taker"]
    assert taker
    page = crew.kim.press(page, "Offer it, with this list", words="the reader is slow")
    assert "you go on getting the notices" in page.says.lower()
    for visitor in (noor, crew.ada):
        seen = visitor.get("/shift")
        if "I have read it, and take it over" in seen.buttons:
            assert "the reader is slow" in seen.says
            seen = visitor.press(seen, "I have read it, and take it over")
            assert "The notices come to you now." in seen.says
            break
    else:
        raise AssertionError("nobody was offered it")


def test_an_offer_can_be_taken_back(crew: Crew) -> None:
    page = crew.kim.press(crew.kim.get("/shift"), "Offer it, with this list")
    page = crew.kim.press(page, "Take the offer back")
    assert "The offer is taken back." in page.says


def test_what_nobody_is_reminded_of_yet_is_handed_over_too(crew: Crew) -> None:
    shot(crew, "S-014")
    crew.harbour.clock.wait(10)
    tick(crew.harbour.service)
    assert "1 roll is below the backup rule all the same." in crew.kim.get("/reminders").says
    says = crew.kim.get("/shift").says
    assert "Not backed up: 1" in says
    assert "S-014: A001 not backed up." in says
