"""The page of a card: what it holds, may it be formatted, what happens next, what went wrong."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.services.harbour import GB, KIM, LEE, Harbour
from tests.web.card_stories import (
    aside,
    at,
    backed_up,
    claimed,
    cleared,
    fresh,
    gone,
    guessed,
    in_camera,
    last,
    offload_day,
    press,
    roll_id,
    shot,
    wiped,
)
from tests.web.visitor import NAMES, Crew
from tracker.services import (
    acts_camera,
    acts_card,
    acts_clearing,
    acts_copies,
    acts_day,
)
from tracker.services.roles import TABLE
from tracker.web.pages.card_table import ACTS

# At arm's length


def test_the_first_line_says_status_roll_copies_and_who_has_it(crew: Crew) -> None:
    claimed(crew.harbour)
    page = at(crew.lee)
    assert "S-014 code" in page.says
    assert "shot, not copied DO NOT FORMAT" in page.says
    assert "Holds A001: no copy counts, not backed up" in page.says
    assert "RAID: claimed, on set: does not count, it is claimed; the rule asks for" in page.says
    assert "Out of camera A; nobody said who has it, for 20 min (since 11:10)" in page.says
    acts_card.hand_over(crew.harbour.service, LEE, ["S-014"], "Sam", "driver")
    assert "Who has it Sam (driver), for 0 min" in at(crew.lee).says


def test_why_not_is_said_with_what_settles_it(crew: Crew) -> None:
    shot(crew.harbour)
    page = at(crew.lee)
    assert "May it be formatted? No. What stands in the way, and what settles it:" in page.says
    assert "Roll A001 has no copy that counts; the rule asks for 2: make 2 copies" in page.says
    crew.harbour.checked("S-014", "RAID", "SHUTTLE")
    assert "Everything on it is backed up; a data manager has to clear it." in at(crew.lee).says
    acts_clearing.clear(crew.harbour.service, KIM, "S-014")
    page = at(crew.lee)
    assert "cleared may be formatted" in page.says
    assert "Yes, in the camera only." in page.says


def test_what_nobody_knows_is_unknown(crew: Crew) -> None:
    in_camera(crew.harbour)
    acts_camera.pull(crew.harbour.service, LEE, "S-014")
    page = at(crew.pat)
    assert "Size unknown, clips unknown" in page.says
    assert "Serial number unknown" in page.says
    assert "Footage logged unknown" in page.says


def test_a_card_that_is_probably_out_is_told_as_shot_and_not_copied(crew: Crew) -> None:
    in_camera(crew.harbour)
    acts_camera.load(crew.harbour.service, LEE, "S-015", "A", formatted=True)
    page = at(crew.lee)
    assert "shot, not copied DO NOT FORMAT" in page.says
    assert "S-015 went into camera A since: S-014 is probably out" in page.says
    assert "Log it as pulled" in page.buttons


def test_danger_stands_first_and_a_card_to_be_rescued_is_not_offered_for_formatting(
    crew: Crew,
) -> None:
    wiped(crew.harbour)
    page = at(crew.kim)
    lost = page.says.index("A001: formatted while a roll on it was not backed up")
    assert lost < page.says.index("What it holds")
    assert "May it be formatted? No." in page.says
    assert not [link for link in page.read.links if link.endswith("act=clear")]
    page = at(crew.kim, "?act=load")
    assert "DO NOT FORMAT" in page.says
    assert "Stop: do not load, format, repair or write to this card." in page.says


def test_a_label_with_a_slash_and_a_former_label_lead_to_the_card(crew: Crew) -> None:
    acts_card.register_card(crew.harbour.service, KIM, "B/2 #1", "2.5in SSD", 1_000 * GB)
    page = crew.kim.get("/cards/B/2%20%231")
    page = crew.kim.press(page, "Check it in", found="empty")
    assert "B/2 #1: Checked in: empty." in page.says
    page = crew.kim.get("/cards/B/2%20%231?act=relabel")
    page = crew.kim.press(page, "Log the new label", new_label="B/3/load")
    assert page.status == 200
    assert "Relabelled" in page.says
    assert crew.kim.at.startswith("/cards/B/3/load?said=")
    crew.kim.get("/cards/B/2%20%231?act=note")
    assert crew.kim.at == "/cards/B/3/load?act=note"
    assert "Former labels B/2 #1" in crew.kim.get("/cards/B/3/load").says


def test_a_card_that_nobody_knows_is_not_here(crew: Crew) -> None:
    page = crew.kim.get("/cards/S-041")
    assert page.status == 404
    assert "S-014" in page.says
    assert crew.kim.get("/cards/S-014?act=polish").status == 404


def test_a_long_history_comes_in_pieces(crew: Crew) -> None:
    for number in range(30):
        acts_card.note(crew.harbour.service, LEE, "S-014", f"remark {number}")
    page = at(crew.lee)
    assert "32. 2026-03-02 10:10 Note: remark 29. (said by lee)" in page.says
    assert "remark 3." not in page.says
    assert "remark 3." in at(crew.lee, "?history=all").says
    assert len(page.answer.data) < 40_000


# Every act, through its form

STORIES: dict[str, tuple[Callable[[Harbour], None], dict[str, Any], str]] = {
    "load": (fresh, {"camera": "A", "formatted": "yes"}, "loaded"),
    "swap": (fresh, {"camera": "A", "formatted": "no", "roll": "A007"}, "loaded"),
    "pull": (in_camera, {"unmounted": "yes", "size": "400 GB", "clips": "12"}, "pulled"),
    "rename-roll": (shot, {"roll": "its id", "new_name": "A009"}, "roll_renamed"),
    "confirm-name": (guessed, {"roll": "its id"}, "roll_renamed"),
    "format": (cleared, {"camera": "A"}, "formatted"),
    "offloaded": (offload_day, {}, "copy_finished"),
    "copying": (shot, {"drive": "RAID"}, "copy_started"),
    "copied": (shot, {"drive": "RAID", "roll_id": "its id", "size": "400 GB"}, "copy_finished"),
    "checked": (claimed, {"drive": "RAID", "level": "checksummed"}, "copy_checked"),
    "copy-failed": (claimed, {"drive": "RAID", "reason": "short"}, "copy_failed"),
    "copy-lost": (claimed, {"drive": "RAID", "reason": "deleted"}, "copy_lost"),
    "received": (
        backed_up,
        {"roll": "its id", "received_from": "Nia", "verdict": "good"},
        "received",
    ),
    "clear": (backed_up, {}, "cleared"),
    "clear-against-the-rule": (
        claimed,
        {
            "override_reason": "no card is left",
            "authorised_by": "Ines",
            "promise": "a second copy",
            "promise_by": "Kim",
            "promise_until": "2026-03-02T20:00",
        },
        "cleared",
    ),
    "withdraw-clearing": (cleared, {"reason": "wrong card"}, "clearing_withdrawn"),
    "declare-empty": (shot, {"roll": "its id"}, "declared_empty"),
    "write-off": (
        shot,
        {"roll": "its id", "authorised_by": "Ines", "reason": "lens test"},
        "written_off",
    ),
    "check-in": (fresh, {"found": "footage"}, "checked_in"),
    "hand-over": (shot, {"to": "Sam", "place": "driver"}, "handed_over"),
    "set-aside": (fresh, {"reason": "dropped"}, "set_aside"),
    "return": (aside, {"reason": "it was the cable"}, "returned_to_service"),
    "damage": (fresh, {"part": "edge", "severity": "3", "text": "sharp"}, "damage_noted"),
    "missing": (fresh, {"place": "van 2"}, "reported_missing"),
    "found": (gone, {"place": "under the seat"}, "found"),
    "relabel": (fresh, {"new_label": "S-114"}, "relabelled"),
    "retire": (fresh, {"reason": "worn"}, "retired"),
    "note": (fresh, {"text": "a remark"}, "noted"),
}
"""Each act: how the card stands, what is typed, and the fact that is logged."""
BY_LINE = {"settle", "take-back", "settle-damage"}
"""Acts about one line of the page: each has its own story below."""


def test_every_act_has_its_story() -> None:
    assert STORIES.keys() | BY_LINE == ACTS.keys()


@pytest.mark.parametrize("word", STORIES)
def test_an_act_is_offered_logged_once_and_can_be_taken_back(crew: Crew, word: str) -> None:
    begins, typed, event = STORIES[word]
    begins(crew.harbour)
    if word == "swap":
        acts_camera.load(crew.harbour.service, LEE, "S-016", "A", formatted=True)
        crew.harbour.clock.wait()
    said = {k: roll_id(crew.harbour) if v == "its id" else v for k, v in typed.items()}
    page = at(crew.kim)
    act = ACTS[word]
    if not [one for one in page.buttons if one.startswith(act.button)]:
        assert f"/cards/S-014?act={word}" in page.read.links
    page = at(crew.kim, f"?act={word}")
    told = press(crew.kim, page, act.button, **said)
    assert told.status == 200, told.says
    label = "S-114" if word == "relabel" else "S-014"
    assert last(crew.harbour, label).event == event
    assert "Take this back" in told.buttons
    count = crew.harbour.count()
    press(crew.kim, page, act.button, **said)
    assert crew.harbour.count() == count
    assert crew.harbour.agrees()


@pytest.mark.parametrize(("name", "role"), NAMES.items())
def test_a_form_is_shown_to_whoever_may_send_it(crew: Crew, name: str, role: str) -> None:
    shot(crew.harbour)
    for word, act in ACTS.items():
        status = at(getattr(crew, name.lower()), f"?act={word}").status
        shown = 404 if word in BY_LINE else 200
        assert status == (shown if role in TABLE[act.action] else 403), word


def test_buttons_are_only_for_those_who_may(crew: Crew) -> None:
    backed_up(crew.harbour)
    links = at(crew.lee).read.links
    assert not [link for link in links if "act=clear" in link or "act=take-back" in link]
    assert [link for link in at(crew.kim).read.links if link.endswith("?act=clear")]


def test_a_format_never_stands_beside_a_pull(crew: Crew) -> None:
    in_camera(crew.harbour)
    page = at(crew.lee)
    form = page.form("Log it as pulled")
    assert "formatted" not in form.fields
    assert page.says.index("Log it as pulled") < page.says.index("Something else happened")
    assert page.says.index("Something else happened") < page.says.index("It was formatted in")


def test_a_time_may_be_given_exactly_by_a_data_manager(crew: Crew) -> None:
    in_camera(crew.harbour)
    page = at(crew.kim)
    crew.kim.press(page, "Log it as pulled", at="2026-03-02T10:45")
    assert last(crew.harbour).occurred_at.isoformat() == "2026-03-02T08:45:00+00:00"
    assert "at" not in at(crew.lee, "?act=note").form("Log the note").fields


# What is typed wrongly, or would lose footage


@pytest.mark.parametrize(
    ("word", "typed", "says"),
    [
        ("load", {"camera": "A"}, "Formatted in that camera as it went in?”: found nothing"),
        ("load", {"camera": "Q", "formatted": "no"}, "no camera has the label 'Q'"),
        ("load", {"camera": "A", "formatted": "no", "slot": "two"}, "expected a whole number"),
        ("set-aside", {"reason": "  "}, "“Reason”: found nothing"),
        ("relabel", {"new_label": "S-015"}, "is on another card"),
        ("damage", {"part": "edge", "severity": "9", "text": "x"}, "expected one of: 1: cosmetic"),
        ("hand-over", {"to": "Sam", "place": "moon"}, "expected one of: camera crew"),
        ("note", {"text": "kept", "at": "yesterday"}, "expected a date and a time"),
    ],
)
def test_what_was_typed_is_kept_and_nothing_is_logged(
    crew: Crew, word: str, typed: dict[str, str], says: str
) -> None:
    before = crew.harbour.count()
    page = press(crew.kim, at(crew.kim, f"?act={word}"), ACTS[word].button, **typed)
    assert 400 <= page.status < 500
    assert "Nothing was logged." in page.says
    assert says in page.says
    assert crew.harbour.count() == before
    for value in typed.values():
        assert value.strip() in page.answer.text


def test_what_could_lose_footage_is_asked_first_with_rolls_copies_and_levels(crew: Crew) -> None:
    claimed(crew.harbour)
    before = crew.harbour.count()
    page = at(crew.kim, "?act=clear-against-the-rule")
    assert "A001 is not backed up" in page.says
    assert "A001: not backed up, 400 GB" in page.says
    assert "RAID: claimed, on set: does not count (it is claimed" in page.says
    assert "Never clear on the word of one copy." in page.says
    assert "Clear it against the rule, though A001 is not backed up" in page.buttons
    # Whoever never saw that is shown it, with what was typed kept.
    fields = page.form("Clear it against the rule, though A001 is not backed up").fields
    typed = STORIES["clear-against-the-rule"][1]
    action = "/cards/S-014/clear-against-the-rule"
    page = crew.kim.send(action, {**fields, **typed, "sure": ""})
    assert page.status == 409
    assert "Nothing was logged yet." in page.says
    assert crew.harbour.count() == before
    page = press(crew.kim, page, "Clear it against the rule", **typed)
    assert "may be formatted" in page.says
    assert "cleared against the backup rule" in page.says


def test_what_changed_since_it_was_asked_is_asked_again(crew: Crew) -> None:
    backed_up(crew.harbour)
    page = at(crew.kim, "?act=clear")
    assert "A001: backed up, 400 GB" in page.says
    acts_copies.copy_lost(crew.harbour.service, KIM, "S-014", "RAID", "deleted")
    page = crew.kim.press(page, "Clear it")
    assert page.status == 409
    assert "A001 is not backed up" in page.says
    page = press(crew.kim, page, "Clear it")
    assert page.status == 409
    assert "roll A001 has 1 of 2 copies that count (SHUTTLE)" in page.says
    assert crew.harbour.status("S-014") == "exposed"


def test_a_card_that_leaves_with_footage_is_asked_about(crew: Crew) -> None:
    shot(crew.harbour)
    page = at(crew.lee, "?act=hand-over")
    assert "Nothing was logged yet" not in page.says
    page = crew.lee.press(page, "Log who has it", to="Sam", place="driver", outside="on")
    assert page.status == 409
    assert "A001 is not backed up" in page.says
    page = press(crew.lee, page, "Log who has it")
    assert "left the production with a roll that is not backed up" in page.says


def test_a_form_of_a_label_that_went_to_another_card_logs_nothing(crew: Crew) -> None:
    page = at(crew.kim, "?act=note")
    acts_card.relabel(crew.harbour.service, KIM, "S-014", "S-114")
    crew.harbour.clock.wait()
    acts_card.relabel(crew.harbour.service, KIM, "S-015", "S-014")
    before = crew.harbour.count()
    assert crew.kim.press(page, "Log the note", text="mine").status == 404
    assert crew.harbour.count() == before


# What went wrong, and what was a mistake


def test_a_mishap_is_settled_with_a_reason(crew: Crew) -> None:
    wiped(crew.harbour)
    page = at(crew.kim)
    (link, *_) = [one for one in page.read.links if "mishap=formatted_uncovered" in one]
    page = crew.kim.get(link)
    assert "Formatted while a roll on it was not backed up" in page.says
    page = crew.kim.press(page, "Settle it", reason="a lens test, nobody wants it")
    assert "Mishap settled (formatted uncovered): a lens test" in page.says
    assert "formatted_uncovered" not in dict(crew.harbour.mishaps("S-014"))
    assert crew.kim.get(link).status == 404
    assert not [one for one in at(crew.lee).read.links if "act=settle" in one]


def test_damage_is_dealt_with(crew: Crew) -> None:
    page = press(
        crew.lee, at(crew.lee, "?act=damage"), "Log the damage",
        part="casing", severity="3", text="cracked",
    )  # fmt: skip
    assert "Its casing, severity 3 of 4: cracked" in page.says
    assert crew.harbour.status("S-014") == "set aside"
    (link,) = [one for one in at(crew.kim).read.links if "act=settle-damage" in one]
    page = crew.kim.press(crew.kim.get(link), "Log that it was dealt with", text="new casing")
    assert "None is logged that was not dealt with." in page.says


def test_any_entry_is_taken_back_with_a_reason_and_stays_readable(crew: Crew) -> None:
    shot(crew.harbour)
    page = at(crew.kim)
    entry = last(crew.harbour).id
    page = crew.kim.get(f"/cards/S-014?act=take-back&fact={entry}")
    assert "Pulled from the camera, 400 GB, 12 clips" in page.says
    # A roll that is nowhere else goes with its entry: that is named, and asked.
    sure = "Take it back, though A001 is not backed up"
    page = crew.kim.press(page, sure, reason="it was S-015")
    assert "(taken back)" in page.says
    assert crew.harbour.status("S-014") == "loaded"
    assert f"/cards/S-014?act=take-back&fact={entry}" not in page.read.links


def test_a_card_whose_registration_is_taken_back_leads_to_now(crew: Crew) -> None:
    acts_card.register_card(crew.harbour.service, KIM, "S-999", "2.5in SSD", GB)
    (link,) = [one for one in crew.kim.get("/cards/S-999").read.links if "take-back" in one]
    page = crew.kim.press(crew.kim.get(link), "Take it back", reason="no such card")
    assert page.status == 200
    assert crew.kim.at.startswith("/now")
    assert crew.kim.get("/cards/S-999").status == 404


def test_a_full_camera_says_what_is_in_it_and_what_speaks_against_it(crew: Crew) -> None:
    acts_day.set_camera(crew.harbour.service, KIM, "C", "main", takes="compact card")
    acts_camera.load(crew.harbour.service, LEE, "S-015", "A", formatted=True)
    page = at(crew.lee)
    assert "A: S-015 is in it" in page.says
    assert "Camera C: it is a 2.5in SSD; camera C takes compact card" in page.says
