"""What is owed, as people see it and answer it: I have it, later, our limits, yours now."""

from __future__ import annotations

import pytest
from sqlalchemy import update

from tests.services.harbour import KIM
from tests.web.test_loader import shot
from tests.web.visitor import Crew, Visitor, token_for
from tracker.reminders.notices import tick
from tracker.services import acts_card, acts_drive, people_list
from tracker.store.people_tables import Person


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
    assert "Hold it back for everybody" not in crew.lee.get("/reminders").buttons
    wrong = crew.kim.press(page, "Hold it back for everybody", reason=" ")
    assert wrong.status == 400
    page = crew.kim.press(
        page, "Hold it back for everybody", reason="the cart moves", minutes="180"
    )
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


LOST, BELOW = "missing with footage", "a roll below the rule"
HAVE = "I have it: only I am told until it is settled"


def lost(crew: Crew) -> str:
    """A card with footage is missing: Kim, Lee and Pat are told. Gives the end of its buttons."""
    shot(crew, "S-014")
    acts_card.report_missing(crew.harbour.service, KIM, "S-014")
    tick(crew.harbour.service)
    return f": S-014, {LOST}"


def test_a_rule_of_a_danger_is_not_switched_off_without_a_question(crew: Crew) -> None:
    lost(crew)
    page = crew.kim.get("/reminders/rules")
    button = f"Set this rule so: {LOST}"
    page = crew.kim.press(page, button, on=None)
    assert f"Nobody is told of this danger any more: {LOST}." in page.says
    assert "It stands now, and nobody would hear of it: S-014" in page.says
    assert "Nothing is set yet." in page.says
    assert LOST in crew.kim.get("/reminders").says
    page = crew.kim.press(page, button, sure="yes")
    assert "The reminders are set so" in page.says
    says = crew.kim.get("/reminders").says
    assert "Not told, since these rules are off:" in says
    assert f"{LOST} (1 stands)" in says


def test_quiet_hours_that_stop_danger_are_asked_about(crew: Crew) -> None:
    page = crew.kim.get("/reminders/rules")
    typed = {"quiet_start": "22:00", "quiet_end": "06:00", "pierced": None}
    page = crew.kim.press(page, "Set it so", **typed)
    assert "From 22:00 to 06:00 nobody is told of any danger: it waits until 06:00." in page.says
    page = crew.kim.press(page, "Set it so", sure="yes")
    assert "danger waits too" in page.says


def test_only_who_is_told_or_manages_takes_it(crew: Crew) -> None:
    owing(crew)
    page = crew.pat.get("/reminders")
    assert not [one for one in page.buttons if one.startswith("I have it")]
    form = crew.lee.get("/reminders").form(f"{HAVE}: S-014, exposed too long")
    own = crew.pat.get("/me/told-by").form("Set my quiet hours").fields
    mine = {**form.fields, "form_key": own["form_key"]}
    said = crew.pat.send(form.action, mine)
    assert said.status == 400
    assert "Your role is not told of that" in said.says
    assert "has it since" not in crew.lee.get("/reminders").says


def test_what_somebody_has_by_now_is_not_taken_from_them_by_an_old_page(crew: Crew) -> None:
    end = lost(crew)
    old = crew.lee.get("/reminders")
    crew.kim.press(crew.kim.get("/reminders"), HAVE + end)
    said = crew.lee.press(old, HAVE + end)
    assert "Kim has it by now" in said.says
    taking = f"Take it over from Kim: only I am told until it is settled{end}"
    assert "Lee has it" in crew.lee.press(said, taking).says


def test_a_danger_that_stands_on_is_told_to_everybody_again(crew: Crew) -> None:
    end = lost(crew)
    page = crew.kim.press(crew.kim.get("/reminders"), HAVE + end)
    assert "nobody else is told, until" in page.says
    crew.harbour.clock.wait(2 * 60)
    tick(crew.harbour.service)
    assert "everybody is told again (Kim, Lee, Pat)" in crew.lee.get("/reminders").says


def test_who_was_put_out_has_nothing_any_more(crew: Crew) -> None:
    end = lost(crew)
    crew.pat.press(crew.pat.get("/reminders"), HAVE + end)
    assert "Pat has it" in crew.kim.get("/reminders").says
    page = crew.kim.press(
        crew.kim.get("/shift"), "Offer it, with this list", taker=person(crew, "Ada")
    )
    crew.ada.press(crew.ada.get("/shift"), "I have read it, and take it over")
    assert "Ada gets the notices" in crew.kim.get("/shift").says
    for name in ("Pat", "Ada"):
        put_out(crew, name)
    says = crew.kim.get("/reminders").says
    assert "Pat has it" not in says
    assert "Told: Kim" in says
    page = crew.kim.get("/shift")
    assert "The notices go to every data manager" in page.says
    assert "Ada does not belong here any more" in page.says


def person(crew: Crew, name: str) -> str:
    """The id of somebody."""
    here = people_list.everybody(crew.harbour.service)
    return next(one.id for one in here if one.name == name)


def put_out(crew: Crew, name: str) -> None:
    with crew.harbour.service.store.writing() as conn:
        at = crew.harbour.clock()
        conn.execute(update(Person).where(Person.name == name).values(revoked_at=at))


def test_an_older_page_of_rules_undoes_nothing(crew: Crew) -> None:
    old = crew.kim.get("/reminders/rules")
    crew.ada.press(
        crew.ada.get("/reminders/rules"), "Set it so",
        quiet_start="22:00", quiet_end="06:00", escalate_after="0.25",
    )  # fmt: skip
    page = crew.kim.press(old, "Set it so", morning_list="06:30")
    assert page.status == 409
    assert "The reminders were set anew since this page was drawn" in page.says
    assert "22:00 to 06:00" in page.says
    assert page.form("Set it so").fields["quiet_start"] == "22:00"
    page = crew.kim.press(page, "Set it so", morning_list="06:30")
    for words in ("06:30", "22:00 to 06:00", "15 min"):
        assert words in page.says


def test_later_pressed_twice_is_once_and_says_of_what(crew: Crew) -> None:
    owing(crew)
    page = crew.kim.get("/reminders")
    for _ in range(2):
        said = crew.kim.press(page, "Hold it back for everybody", reason="lunch")
    assert "Held back: 1" in said.says
    assert "S-014: exposed too long, held back for everybody until" in said.says
    assert "Until then nobody is told of it: not Lee." in said.says
    other = crew.kim.press(said, "Hold it back for everybody", reason="the cart moves")
    assert "Held back: 2" in other.says
    ends = next(one for one in other.buttons if one.startswith("Let it go again"))
    assert "Held back:" not in crew.kim.press(other, ends).says


@pytest.mark.parametrize(
    ("button", "typed", "says"),
    [
        ("Set this rule so: exposed too long", {"repeat": "0.0000001"}, "Again every so many"),
        ("Set this rule so: exposed too long", {"rule": "nonsense"}, "Rule: found 'nonsense'"),
        ("Set it so", {"escalate_after": "0"}, "A danger that nobody answers goes on after"),
        ("Set it so", {"quiet_start": "22:00", "quiet_end": "22:00"}, "Quiet until"),
        ("Set it so", {"quiet_start": "22:00", "quiet_end": ""}, "Quiet until: found 'nothing'"),
    ],
)  # fmt: skip
def test_what_is_typed_wrongly_is_said_in_the_words_of_the_form_and_kept(
    crew: Crew, button: str, typed: dict[str, str], says: str
) -> None:
    page = crew.kim.press(crew.kim.get("/reminders/rules"), button, **typed)
    assert page.status == 400
    assert says in page.says
    kept = page.form(button).fields
    assert all(kept[name] == value for name, value in typed.items() if name != "rule")
    assert "Nobody has set anything" in page.says


def test_why_something_waits_is_kept_where_the_time_is_missing(crew: Crew) -> None:
    owing(crew)
    page = crew.kim.get("/reminders")
    button = "Hold it back for everybody"
    wrong = crew.kim.press(page, button, reason="lunch", minutes="5")
    assert "Say for how long: 1 hour, 3 hours, 12 hours." in wrong.says
    # Read from the page as it stands: the visitor fills in what a field has.
    assert wrong.form(button).fields["reason"] == "lunch"


def test_what_is_owed_leads_to_its_card(crew: Crew) -> None:
    owing(crew)
    assert "/cards/S-014" in crew.kim.get("/reminders").read.links


def test_a_shift_goes_to_another_manager_and_can_be_let_go(crew: Crew) -> None:
    page = crew.kim.get("/shift")
    for name, says in (("Lee", "Choose a data manager"), ("Kim", "Choose somebody else")):
        wrong = crew.kim.press(
            page, "Offer it, with this list", taker=person(crew, name), words="slow"
        )
        assert wrong.status == 400
        assert says in wrong.says
    crew.kim.press(page, "Offer it, with this list", taker=person(crew, "Ada"))
    crew.ada.press(crew.ada.get("/shift"), "I have read it, and take it over")
    page = crew.kim.get("/shift")
    assert "Ada gets the notices" in page.says
    assert "Offer it, with this list" not in page.buttons
    page = crew.kim.press(page, "Let it go to every data manager again")
    assert "The notices go to every data manager again." in page.says
    assert "let go" in page.says
    assert "Let it go to every data manager again" not in page.buttons
