"""What can lose footage is asked first: by whom it is said, of which rolls, and what follows."""

from __future__ import annotations

from typing import Any

import pytest

from tests.services.harbour import GB, KIM, LEE, Harbour
from tests.web.card_stories import (
    aside,
    at,
    backed_up,
    cleared,
    fresh,
    in_camera,
    press,
    shot,
    wiped,
)
from tests.web.visitor import Crew, Page
from tracker.domain.rule import BackupRule
from tracker.services import (
    acts_camera,
    acts_card,
    acts_clearing,
    acts_copies,
    acts_day,
)
from tracker.web.pages import card_acts, card_asking
from tracker.web.pages.card_table import ACTS

FORMATTED = {"camera": "A", "formatted": "yes"}


def unseen(harbour: Harbour) -> None:
    """S-020 is in the pool, and nobody has looked at what is on it."""
    acts_card.register_card(harbour.service, KIM, "S-020", "2.5in SSD", 1_000 * GB)


def visiting(harbour: Harbour) -> None:
    """V-1 is somebody else's, and nobody has looked at what is on it."""
    acts_card.take_in_visiting(harbour.service, KIM, "V-1", "2.5in SSD", 1_000 * GB)


def say(crew: Crew, word: str, label: str = "S-014", *, who: str = "kim", **typed: Any) -> Page:
    """Open the form of an act, fill it in and press its button, once."""
    visitor = getattr(crew, who)
    page = visitor.get(f"/cards/{label}?act={word}")
    return press(visitor, page, ACTS[word].button, **typed)


def again(crew: Crew, page: Page, word: str, *, who: str = "kim", **typed: Any) -> Page:
    """Press the same button on the page that asks."""
    return press(getattr(crew, who), page, ACTS[word].button, **typed)


def is_asked(crew: Crew, page: Page, before: int) -> None:
    assert page.status == 409, page.says
    assert "Nothing was logged yet." in page.says
    assert crew.harbour.count() == before


# What is on it is unknown, or somebody else's


@pytest.mark.parametrize("word", ["load", "format"])
def test_what_is_on_an_unseen_card_is_unknown_and_that_is_a_risk(crew: Crew, word: str) -> None:
    unseen(crew.harbour)
    page = crew.lee.get(f"/cards/S-020?act={word}")
    assert "Nobody has looked at what is on it. Look, and check it in." in page.says
    assert "What is on it is unknown: nobody looked." in page.says
    # An old form, or a program of somebody's own, has seen none of that.
    fields = {**page.form(ACTS[word].button).fields, **FORMATTED, "sure": ""}
    before = crew.harbour.count()
    page = crew.lee.send(f"/cards/S-020/{word}", fields)
    is_asked(crew, page, before)
    again(crew, page, word, who="lee", **FORMATTED)
    assert crew.harbour.count() == before + 1


def test_a_card_of_somebody_else_is_never_formatted_by_us_and_it_is_asked(crew: Crew) -> None:
    visiting(crew.harbour)
    page = crew.lee.get("/cards/V-1?act=load")
    assert "It is somebody else's card." in page.says
    assert "its owner formats it" in page.says
    assert "sure" in page.form("Log it as loaded").fields


def test_of_a_visiting_card_that_we_formatted_nobody_says_that_nothing_was_on_it(
    crew: Crew,
) -> None:
    visiting(crew.harbour)
    acts_camera.format_in_camera(crew.harbour.service, LEE, "V-1", camera="A")
    assert "Give it back, and tell its owner that it was formatted here" in (
        crew.kim.get("/cards/V-1").says
    )


def test_an_unseen_card_that_leaves_is_asked_about(crew: Crew) -> None:
    unseen(crew.harbour)
    before = crew.harbour.count()
    page = say(crew, "hand-over", "S-020", to="Sam", place="driver", outside="on")
    is_asked(crew, page, before)
    assert "Nobody has looked at what is on it." in page.says


# There is no leave


def withdrawn(harbour: Harbour) -> None:
    cleared(harbour)
    acts_clearing.withdraw_clearing(harbour.service, KIM, "S-014", "post wants the card kept")


def held(harbour: Harbour) -> None:
    acts_day.set_rule(harbour.service, KIM, BackupRule(2, hold_days=3))
    backed_up(harbour)


@pytest.mark.parametrize(
    ("begins", "why"),
    [
        (backed_up, "Everything on it is backed up, but nobody cleared it."),
        (withdrawn, "Its clearing was withdrawn: post wants the card kept."),
        (held, "Roll A001 is kept on the card until 2026-03-05"),
        (aside, "It is set aside: dropped."),
    ],
)
@pytest.mark.parametrize("word", ["load", "format"])
def test_a_format_without_leave_asks_and_says_why_there_is_none(
    crew: Crew, begins: Any, why: str, word: str
) -> None:
    begins(crew.harbour)
    page = crew.lee.get(f"/cards/S-014?act={word}")
    assert why in page.says
    before = crew.harbour.count()
    fields = {**page.form(ACTS[word].button).fields, **FORMATTED, "sure": ""}
    is_asked(crew, crew.lee.send(f"/cards/S-014/{word}", fields), before)


def test_a_load_that_does_not_format_a_card_that_is_backed_up_is_logged(crew: Crew) -> None:
    backed_up(crew.harbour)
    fields = {"camera": "A", "formatted": "no", "sure": ""}
    page = crew.lee.get("/cards/S-014?act=load")
    page = crew.lee.send("/cards/S-014/load", {**page.form("Log it as loaded").fields, **fields})
    assert page.status == 200
    assert crew.harbour.status("S-014") == "loaded"


@pytest.mark.parametrize("begins", [fresh, cleared])
def test_a_format_with_leave_is_logged_at_once(crew: Crew, begins: Any) -> None:
    begins(crew.harbour)
    page = say(crew, "load", who="lee", **FORMATTED)
    assert page.status == 200
    assert crew.harbour.status("S-014") == "loaded"
    assert "formatted_uncleared" not in dict(crew.harbour.mishaps("S-014"))


def test_why_leave_was_withdrawn_stands_on_the_card_and_where_it_is_cleared_again(
    crew: Crew,
) -> None:
    withdrawn(crew.harbour)
    words = "ts clearing was withdrawn: post wants the card kept"
    assert words in at(crew.kim).says
    assert words in at(crew.kim, "?act=clear").says
    page = say(crew, "clear")
    assert page.status == 200
    assert "Its clearing was withdrawn" not in page.says.partition("What happened")[0]


def test_a_late_time_is_judged_as_of_then(crew: Crew) -> None:
    shot(crew.harbour)
    crew.harbour.clock.wait(30)
    crew.harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_clearing.clear(crew.harbour.service, KIM, "S-014")
    before = crew.harbour.count()
    # It is cleared now; half an hour ago there was no copy of A001.
    page = say(crew, "load", who="lee", when="30", **FORMATTED)
    is_asked(crew, page, before)
    assert "formatted while a roll on it was not backed up" in page.says
    assert again(crew, page, "load", who="lee", when="30", **FORMATTED).status == 200


# What was seen is not so any more


def test_a_card_that_was_set_aside_since_is_asked_about_again(crew: Crew) -> None:
    backed_up(crew.harbour)
    page = at(crew.kim, "?act=clear")
    acts_card.note_damage(crew.harbour.service, LEE, "S-014", "contacts", 4, "swollen")
    before = crew.harbour.count()
    page = crew.kim.press(page, "Clear it")
    is_asked(crew, page, before)
    assert "It is set aside: damage to its contacts: swollen." in page.says


def test_a_roll_of_which_post_said_bad_since_is_asked_about_again(crew: Crew) -> None:
    shot(crew.harbour)
    page = at(crew.kim, "?act=write-off")
    acts_clearing.received(crew.harbour.service, KIM, "S-014", "A001", "Nia", "bad")
    before = crew.harbour.count()
    typed = {"authorised_by": "Ines", "reason": "lens test"}
    page = press(crew.kim, page, "Write it off", **typed)
    is_asked(crew, page, before)
    assert crew.harbour.status("S-014") == "exposed"


def test_a_remark_since_changes_nothing_that_was_asked(crew: Crew) -> None:
    backed_up(crew.harbour)
    page = at(crew.kim, "?act=clear")
    acts_card.note(crew.harbour.service, LEE, "S-014", "it is in the blue case")
    assert crew.kim.press(page, "Clear it").status == 200
    assert crew.harbour.status("S-014") == "cleared"


# Settling, and taking back


def short(harbour: Harbour) -> None:
    """Of A001, 400 GB, RAID has it all and SHUTTLE 200 GB."""
    shot(harbour)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_copies.copy_finished(harbour.service, KIM, "S-014", "SHUTTLE", bytes_=200 * GB)
    harbour.checked("S-014", "SHUTTLE")


def settling(crew: Crew, kind: str) -> Page:
    (link, *_) = [one for one in at(crew.kim).read.links if f"mishap={kind}" in one]
    return crew.kim.get(link)


def test_settling_a_short_copy_says_that_it_counts_from_then_on(crew: Crew) -> None:
    short(crew.harbour)
    assert crew.harbour.status("S-014") == "exposed"
    page = settling(crew, "copy_short")
    says = "The copy of A001 on SHUTTLE then counts, though it holds 200 GB of 400 GB."
    assert says in page.says
    assert "A001 then counts as backed up." in page.says
    assert "sure" in page.form("Settle it, though A001 is not backed up").fields
    page = press(crew.kim, page, "Settle it", reason="the figure was wrong")
    assert page.status == 200
    assert crew.harbour.status("S-014") == "backed up"


def test_settling_what_may_still_be_got_back_says_what_may_be_done_from_then_on(
    crew: Crew,
) -> None:
    wiped(crew.harbour)
    page = settling(crew, "formatted_uncovered")
    assert "From then on this card may be loaded and formatted; what may be got back" in page.says
    assert [link for link in page.read.links if link.endswith("?act=set-aside")]
    before = crew.harbour.count()
    fields = {**page.form("Settle it").fields, "reason": "told the producer", "sure": ""}
    page = crew.kim.send("/cards/S-014/settle", fields)
    is_asked(crew, page, before)
    press(crew.kim, page, "Settle it", reason="told the producer")
    assert crew.harbour.count() == before + 1


def test_what_keeps_a_card_from_use_after_a_settlement_is_named(crew: Crew) -> None:
    wiped(crew.harbour)
    acts_card.set_aside(crew.harbour.service, KIM, "S-014", "it goes to recovery")
    page = settling(crew, "formatted_uncovered")
    assert "only that it is set aside keeps this card from being loaded" in page.says
    assert not [link for link in page.read.links if link.endswith("?act=set-aside")]


def entry(harbour: Harbour, event: str) -> str:
    return next(f.id for f in reversed(harbour.facts("S-014")) if f.event == event)


def test_taking_back_the_check_of_a_roll_that_is_wiped_says_what_it_makes(crew: Crew) -> None:
    cleared(crew.harbour)
    acts_camera.load(crew.harbour.service, LEE, "S-014", "B", formatted=True)
    check = entry(crew.harbour, "copy_checked")
    before = crew.harbour.count()
    page = at(crew.kim, f"?act=take-back&fact={check}")
    assert "A001 is then not backed up any more. It is not on the card any more." in page.says
    assert "formatted while a roll on it was not backed up" in page.says
    assert "A001: backed up, not on the card any more, 400 GB" in page.says
    (button,) = [one for one in page.buttons if one.startswith("Take it back")]
    fields = {**page.form(button).fields, "reason": "wrong drive", "sure": ""}
    is_asked(crew, crew.kim.send("/cards/S-014/take-back", fields), before)
    # What was tried is undone.
    assert crew.harbour.agrees()


def test_taking_back_what_nothing_rests_on_is_not_asked(crew: Crew) -> None:
    backed_up(crew.harbour)
    acts_card.note(crew.harbour.service, LEE, "S-014", "a remark")
    page = at(crew.kim, f"?act=take-back&fact={entry(crew.harbour, 'noted')}")
    assert "Look at this first" not in page.says
    assert press(crew.kim, page, "Take it back", reason="wrong card").status == 200


def test_an_entry_that_cannot_be_taken_back_says_so_where_it_is_sent(crew: Crew) -> None:
    shot(crew.harbour)
    registered = entry(crew.harbour, "registered")
    page = at(crew.kim, f"?act=take-back&fact={registered}")
    assert page.status == 200
    page = press(crew.kim, page, "Take it back", reason="no such card")
    assert "Nothing was logged." in page.says


def test_a_copy_that_is_lost_names_the_roll_that_falls(crew: Crew) -> None:
    cleared(crew.harbour)
    acts_camera.load(crew.harbour.service, LEE, "S-014", "B", formatted=True)
    a001 = next(f.id for f in crew.harbour.facts("S-014") if f.event == "loaded")
    before = crew.harbour.count()
    typed = {"drive": "RAID", "roll_id": a001, "reason": "deleted"}
    page = say(crew, "copy-lost", **typed)
    is_asked(crew, page, before)
    assert "A001 is then not backed up any more. It is not on the card any more." in page.says
    assert again(crew, page, "copy-lost", **typed).status == 200


def test_a_finish_over_a_copy_that_was_checked_is_asked_since_it_takes_the_check_away(
    crew: Crew,
) -> None:
    backed_up(crew.harbour)
    before = crew.harbour.count()
    typed = {"drive": "RAID", "roll_id": entry(crew.harbour, "loaded")}
    page = say(crew, "copied", **typed)
    is_asked(crew, page, before)
    assert "A001 is then not backed up any more." in page.says


# Out of use, and out of the production


def test_returning_a_card_to_service_names_why_it_was_set_aside(crew: Crew) -> None:
    backed_up(crew.harbour)
    acts_card.note_damage(crew.harbour.service, LEE, "S-014", "casing", 4, "swollen, hot")
    page = at(crew.kim, "?act=return")
    assert "It is set aside: damage to its casing: swollen, hot." in page.says
    assert "sure" in page.form("Return it to service").fields
    press(crew.kim, page, "Return it to service", reason="it was the cable")
    words = "Nobody dealt with the damage to its casing, severity 4 of 4: swollen, hot."
    assert words in at(crew.kim, "?act=clear").says
    assert words in at(crew.kim, "?act=load").says
    told = "damage to its casing: swollen, hot (say what was done about it)"
    assert told in at(crew.kim, "?act=load").says
    damage = entry(crew.harbour, "damage_noted")
    acts_card.settle_damage(crew.harbour.service, KIM, "S-014", damage, "new casing")
    assert "swollen" not in at(crew.kim, "?act=load").says


def test_a_card_to_be_rescued_is_not_first_of_all_used_again(crew: Crew) -> None:
    wiped(crew.harbour)
    acts_card.set_aside(crew.harbour.service, KIM, "S-014", "it goes to recovery")
    page = at(crew.kim)
    nexts = page.says.partition("What happens next")[2].partition("Something else happened")[0]
    assert "Use it again" not in nexts


def test_a_rental_house_is_outside(crew: Crew) -> None:
    shot(crew.harbour)
    before = crew.harbour.count()
    page = say(crew, "hand-over", who="lee", to="Harbour Rental", place="rental house")
    is_asked(crew, page, before)
    assert "Outside the production nobody here can keep it from being formatted." in page.says


# A second person, and a promise


def promising(**said: str) -> dict[str, str]:
    return {
        "override_reason": "no card is left",
        "authorised_by": "Ines",
        "promise": "a second copy",
        "promise_by": "Kim",
        "promise_until": "2026-03-02T20:00",
        **said,
    }


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ({"authorised_by": "kim "}, "“Who authorised it”: found 'kim', expected a second person"),
        ({"promise_until": "2026-03-01T20:00"}, "expected a time that is still to come"),
    ],
)
def test_a_second_person_authorises_it_and_a_promise_is_of_what_is_to_come(
    crew: Crew, said: dict[str, str], fault: str
) -> None:
    shot(crew.harbour)
    before = crew.harbour.count()
    page = say(crew, "clear-against-the-rule", **promising(**said))
    assert 400 <= page.status < 500
    assert fault in page.says
    assert crew.harbour.count() == before


def test_what_was_promised_is_told_on_the_card_in_its_history_and_on_now(crew: Crew) -> None:
    shot(crew.harbour)
    page = say(crew, "clear-against-the-rule", **promising())
    told = "Promised by Kim, until 2026-03-02 20:00: a second copy."
    assert told in page.says
    assert "Kim promised: a second copy, until 2026-03-02 20:00." in page.says
    assert told in crew.kim.get("/now").says
    assert told in at(crew.lee, "?act=load").says


def test_nobody_clears_a_visiting_card_against_the_rule(crew: Crew) -> None:
    visiting(crew.harbour)
    acts_card.check_in(crew.harbour.service, KIM, "V-1", "footage")
    before = crew.harbour.count()
    page = say(crew, "clear-against-the-rule", "V-1", **promising())
    assert "Nothing was logged." in page.says
    assert "it is somebody else's card: give it back" in page.says
    assert crew.harbour.count() == before


# What a form says of the camera, and of what should be there


def test_nothing_found_where_a_roll_should_be_is_asked(crew: Crew) -> None:
    shot(crew.harbour)
    page = at(crew.kim, "?act=check-in")
    assert "What should be on it A001: not backed up, 400 GB" in page.says
    before = crew.harbour.count()
    page = crew.kim.press(page, "Check it in", found="empty")
    is_asked(crew, page, before)
    assert "It should hold A001, which is not backed up." in page.says
    assert "perhaps this is another card" in page.says


@pytest.mark.parametrize(
    ("word", "typed"),
    [
        ("hand-over", {"to": "Sam", "place": "cart"}),
        ("check-in", {"found": "footage"}),
        ("copied", {"drive": "RAID", "roll_id": "the open one"}),
    ],
)
def test_what_implies_that_a_card_came_out_of_its_camera_says_so(
    crew: Crew, word: str, typed: dict[str, str]
) -> None:
    in_camera(crew.harbour)
    before = crew.harbour.count()
    said = {
        k: entry(crew.harbour, "loaded") if v == "the open one" else v for k, v in typed.items()
    }
    page = say(crew, word, **said)
    is_asked(crew, page, before)
    assert "This says that it came out of camera A, which nobody logged: A001." in page.says
    assert again(crew, page, word, **said).status == 200
    assert crew.harbour.card("S-014").camera is None


def test_a_pull_before_the_load_is_asked(crew: Crew) -> None:
    in_camera(crew.harbour)
    before = crew.harbour.count()
    page = say(crew, "pull", at="2026-03-02T09:30")
    is_asked(crew, page, before)
    assert "pulled, but nobody logged that it was loaded" in page.says


def test_the_card_that_comes_out_is_chosen_where_a_camera_has_several(crew: Crew) -> None:
    service = crew.harbour.service
    acts_camera.load(service, LEE, "S-015", "B", slot=1, formatted=True)
    crew.harbour.clock.wait()
    acts_camera.load(service, LEE, "S-016", "B", slot=2, formatted=True)
    crew.harbour.clock.wait()
    page = at(crew.lee, "?act=swap")
    assert "S-016, out of camera B" in page.says
    said = {"out": "", "formatted": "yes"}
    assert "Which card came out?" in press(crew.lee, page, "Log the swap", **said).says
    page = press(crew.lee, page, "Log the swap", **{**said, "out": "S-016"})
    assert "S-016: Pulled from the camera." in page.says
    assert crew.harbour.status("S-015") == "loaded"
    assert crew.harbour.card("S-014").camera == "B"


# What a card is, in words


def test_a_missing_or_retired_card_is_not_said_to_wait_for_a_data_manager(crew: Crew) -> None:
    cleared(crew.harbour)
    acts_card.report_missing(crew.harbour.service, KIM, "S-014")
    assert "May it be formatted? No: nobody knows where it is." in at(crew.kim).says
    acts_card.retire(crew.harbour.service, KIM, "S-014", "worn")
    says = at(crew.kim).says
    assert "No: it is out of the pool. Nothing that is owed is on it." in says
    assert "has to clear it" not in says


def test_a_retired_card_with_a_roll_says_what_stands_in_the_way(crew: Crew) -> None:
    shot(crew.harbour)
    acts_card.retire(crew.harbour.service, KIM, "S-014", "lost")
    says = at(crew.kim).says
    assert "Whoever has it must leave it alone: Roll A001 has no copy that counts" in says


def test_lunch_copies_are_told_beside_what_is_shot_since(crew: Crew) -> None:
    backed_up(crew.harbour)
    acts_camera.load(crew.harbour.service, LEE, "S-014", "A", roll="A001")
    page = at(crew.lee)
    assert "A001: in camera A, no copy of what is shot since" in page.says
    told = (
        "Copies of what it held before it went into the camera again (11:40), and of nothing "
        "shot since: RAID (checksummed, on set), SHUTTLE (checksummed, on set)."
    )
    assert told in page.says
    page = at(crew.lee, "?act=format")
    assert "No copy of it is logged since" in page.says
    assert told in page.says


def test_a_mirror_names_the_card_and_the_copies_that_cover_it(crew: Crew) -> None:
    service = crew.harbour.service
    acts_camera.load(service, LEE, "S-015", "B", slot=2, roll="B001", loaded_as="mirror")
    acts_camera.load(service, LEE, "S-014", "B", slot=1, roll="B001")
    crew.harbour.clock.wait(60)
    for label in ("S-014", "S-015"):
        acts_camera.pull(service, LEE, label, bytes_=400 * GB)
    crew.harbour.checked("S-014", "RAID", "SHUTTLE")
    told = (
        "A mirror of roll B001, which is on S-014 and is backed up: RAID (checksummed, on set), "
        "SHUTTLE (checksummed, on set)."
    )
    assert crew.harbour.status("S-015") == "backed up"
    assert told in crew.kim.get("/cards/S-015").says
    page = crew.kim.get("/cards/S-015?act=clear")
    assert told in page.says
    assert "what is on it then is only on the drives that are named here" in page.says


@pytest.mark.parametrize("begins", [cleared, fresh])
def test_all_that_gives_leave_goes_with_the_age_of_the_page(crew: Crew, begins: Any) -> None:
    begins(crew.harbour)
    crew.harbour.agrees()
    page = at(crew.lee).answer.text
    for words in ("<strong>Yes, in the camera only.</strong>", "It was formatted in a camera"):
        assert f"<p>{words}" not in page
    if begins is cleared:
        assert "<p data-leave><strong>Yes, in the camera only.</strong>" in page


def test_what_was_said_late_is_told_with_when_it_was_said(crew: Crew) -> None:
    in_camera(crew.harbour)
    crew.harbour.clock.wait(240)
    early = crew.harbour.clock.ago(180)
    acts_camera.pull(crew.harbour.service, LEE, "S-014", at=early)
    assert "12:10 Pulled from the camera. (said by lee, at 2026-03-02 15:10)" in at(crew.kim).says


def test_what_somebody_logs_at_the_same_moment_is_not_overlooked(
    crew: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    backed_up(crew.harbour)

    def looked_and_then(*looked: Any) -> Any:
        asked = card_asking.before(*looked)
        acts_card.set_aside(crew.harbour.service, LEE, "S-014", "dropped")
        return asked

    monkeypatch.setattr(card_acts, "before", looked_and_then)
    page = say(crew, "clear")
    assert page.status == 409
    assert "Somebody logged something of this card at this moment." in page.says
    assert "cleared" not in [fact.event for fact in crew.harbour.facts("S-014")]


def lost(harbour: Harbour) -> None:
    shot(harbour)
    acts_card.report_missing(harbour.service, KIM, "S-014")


def sold(harbour: Harbour) -> None:
    shot(harbour)
    acts_card.retire(harbour.service, KIM, "S-014", "sold")


@pytest.mark.parametrize(
    "begins", [fresh, in_camera, shot, short, withdrawn, wiped, held, aside, lost, sold]
)
def test_every_form_can_be_opened_however_the_card_stands(crew: Crew, begins: Any) -> None:
    begins(crew.harbour)
    before = crew.harbour.count()
    assert at(crew.kim).status == 200
    for word in ACTS:
        assert at(crew.kim, f"?act={word}").status in (200, 404), word
    for link in at(crew.kim, "?history=all").read.links:
        if "act=settle" in link or "act=take-back" in link:
            assert crew.kim.get(link).status == 200, link
    assert crew.harbour.count() == before
    assert crew.harbour.agrees()
