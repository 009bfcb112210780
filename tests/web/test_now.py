"""Now: danger stands first, every count leads to its list, and each knows what is theirs."""

from __future__ import annotations

import pytest

from tests.services.harbour import CART, GB, KIM, LEE
from tests.web.visitor import Crew, Page
from tracker.domain.rule import RECOMMENDED
from tracker.services import acts_camera as camera
from tracker.services import acts_card as card
from tracker.services import acts_copies as copies
from tracker.services import acts_drive
from tracker.services.acts_clearing import clear
from tracker.services.acts_day import set_rule
from tracker.web.pages import now as module


@pytest.fixture
def shooting(crew: Crew) -> Crew:
    """A001 was shot on S-014, Lee has it; S-015 is in B as B001; S-016 is ready for neither."""
    service, clock = crew.harbour.service, crew.harbour.clock
    camera.load(service, LEE, "S-014", "A", roll="A001", formatted=True)
    camera.load(service, LEE, "S-015", "B", roll="B001", formatted=True)
    clock.wait(60)
    camera.pull(service, LEE, "S-014", bytes_=480 * GB, clips=18)
    clock.wait(5)
    card.hand_over(service, LEE, ["S-014"], "Lee", "camera crew")
    clock.wait(25)
    return crew


def danger(crew: Crew) -> None:
    """S-014 is formatted while A001 has no copy."""
    crew.harbour.clock.wait(1)
    camera.format_in_camera(crew.harbour.service, LEE, "S-014", camera="A")
    crew.harbour.clock.wait(9)


def copied(crew: Crew, *drives: str) -> None:
    """S-014 is said to be copied, and nobody checked it."""
    acts_drive.set_todays_drives(crew.harbour.service, KIM, drives)
    copies.offloaded(crew.harbour.service, LEE, ["S-014"])


def before(page: Page, first: str, second: str) -> bool:
    """Whether the page says one thing before another."""
    assert first in page.says and second in page.says, page.says
    return page.says.index(first) < page.says.index(second)


def test_where_nothing_is_in_danger_it_says_so(shooting: Crew) -> None:
    page = shooting.kim.get("/now")
    assert "No danger found." in page.says
    assert "Danger:" not in page.says
    assert "2 copies, checksummed, before a card is formatted" in page.says
    assert shooting.kim.at == "/now"


def test_a_card_is_told_with_what_it_needs_who_acts_and_who_has_it_since_when(
    shooting: Crew,
) -> None:
    says = shooting.kim.get("/now").says
    assert "S-014 shot, not copied DO NOT FORMAT A001 not backed up for 30 min" in says
    assert "Roll A001 has no copy that counts; the rule asks for 2" in says
    assert "loader Lee (camera crew), since 11:15" in says
    assert "S-015 loaded B001 In camera B, shooting B001. Unmount before pulling." in says
    assert "camera crew in camera B, since 10:10" in says


def test_danger_stands_before_all_else_with_what_to_do(shooting: Crew) -> None:
    danger(shooting)
    for somebody in (shooting.kim, shooting.lee, shooting.pat, shooting.ada):
        page = somebody.get("/now")
        assert before(page, "Danger: 1", "Cards by status")
        assert before(page, "S-014, roll A001", "Cards by status")
        assert "Formatted while a roll on it was not backed up: footage may be lost." in page.says
        assert "Stop: do not load, format, repair or write to this card." in page.says
        assert "When: 2026-03-02 11:41" in page.says
    # A loader is led to the short page of it: see test_loader_links.
    assert "/cards/S-014" in shooting.kim.get("/now").read.links


def test_a_missing_card_with_the_only_copy_is_in_danger(shooting: Crew) -> None:
    card.report_missing(shooting.harbour.service, KIM, "S-014", place="the pier")
    page = shooting.kim.get("/now")
    assert before(page, "Danger: 1", "Cards by status")
    assert "S-014, roll A001: missing" in page.says
    assert "It is gone with A001, which is not backed up." in page.says
    assert "nobody knows, last seen at the pier, since 11:40" in page.says


def test_doubts_are_called_doubts_and_stand_before_the_counts(shooting: Crew) -> None:
    camera.load(shooting.harbour.service, LEE, "S-016", "A", roll="A002", formatted=True)
    shooting.harbour.clock.wait(1)
    camera.load(shooting.harbour.service, LEE, "S-014", "A", roll="A003")
    page = shooting.kim.get("/now")
    assert before(page, "Doubt: probably out", "Cards by status")
    assert "S-014 went into camera A since: S-016 is probably out. Treat it as shot" in page.says
    assert "S-016 loaded probably out DO NOT FORMAT" in page.says
    assert "/cards/S-016" in page.read.links


def test_every_count_leads_to_the_cards_it_counts(shooting: Crew) -> None:
    page = shooting.kim.get("/now")
    counted = [link for link in page.read.links if link.startswith("/now?status=")]
    assert {link.partition("#")[0] for link in counted} >= {
        "/now?status=exposed",
        "/now?status=loaded",
        "/now?status=cleared",
    }
    shown = shooting.kim.get("/now?status=loaded")
    assert "Cards asked for" in shown.says
    assert "Status: loaded drop this" in shown.says
    assert ("/cards/S-015" in shown.read.links, "/cards/S-014" in shown.read.links) == (True, False)
    assert "/now" in shown.read.links


def test_cards_of_which_nothing_is_wanted_are_a_count_that_leads_to_them(shooting: Crew) -> None:
    page = shooting.kim.get("/now")
    assert "/cards/S-016" not in page.read.links
    assert "Show 1 cleared" in page.says
    assert "S-016 cleared may be formatted" in shooting.kim.get("/now?status=cleared").says


@pytest.mark.parametrize(
    ("query", "labels"),
    [
        ("unit=main", ["S-014", "S-015"]),
        ("camera=B", ["S-015"]),
        ("camera=no+camera", ["S-016"]),
        ("holder=Lee", ["S-014"]),
        ("holder=camera+B", ["S-015"]),
        ("case=blue", ["S-014", "S-015", "S-016"]),
        ("who=loader", ["S-014", "S-016"]),
        ("who=loader&camera=A", ["S-014"]),
        ("status=exposed&camera=B", []),
        ("camera=%27&case=%00", []),
    ],
)
def test_the_cards_are_those_that_were_asked_for(
    shooting: Crew, query: str, labels: list[str]
) -> None:
    page = shooting.kim.get(f"/now?{query}")
    assert page.status == 200
    shown = [link[7:] for link in page.read.links if link.startswith("/cards/")]
    assert sorted(shown) == labels
    assert ("No card is like that." in page.says) == (not labels)


def test_what_is_asked_for_is_asked_by_a_plain_form_and_dropped_by_a_link(shooting: Crew) -> None:
    form = shooting.kim.get("/now").form("Show these")
    assert (form.method, form.action) == ("get", "/now#next")
    assert set(form.fields) == {"unit", "camera", "status", "holder", "case", "who"}
    page = shooting.kim.get("/now?camera=A&status=exposed")
    assert page.form("Show these").fields["camera"] == "A"
    assert {"/now?status=exposed", "/now?camera=A"} <= set(page.read.links)


def test_a_loader_sees_first_what_is_the_loaders(shooting: Crew) -> None:
    copied(shooting, "RAID", "SHUTTLE")
    assert shooting.harbour.status("S-014") == "copied"
    lee, kim = shooting.lee.get("/now"), shooting.kim.get("/now")
    assert before(lee, "Yours", "S-015 loaded")
    assert before(lee, "S-015 loaded", "Others act")
    assert before(lee, "Others act", "S-014 copied")
    assert before(kim, "S-014 copied", "S-015 loaded")
    assert "Others act" not in kim.says


def test_danger_goes_before_what_is_the_loaders(shooting: Crew) -> None:
    card.set_aside(shooting.harbour.service, KIM, "S-014", "dropped")
    page = shooting.lee.get("/now")
    assert before(page, "Danger: 1", "In danger, and yours")
    assert before(page, "S-014 set aside DO NOT FORMAT A001", "S-015 loaded B001")


def test_rolls_below_the_rule_are_counted_and_listed_with_their_copies(shooting: Crew) -> None:
    copied(shooting, "RAID")
    page = shooting.kim.get("/now")
    assert "rolls below the backup rule 1" in page.says
    assert "/now?show=below" in page.read.links
    listed = shooting.kim.get("/now?show=below")
    assert "A001 on S-014" in listed.says
    assert "480 GB" in listed.says
    assert "RAID: claimed, on set; does not count: it is claimed" in listed.says
    shooting.harbour.checked("S-014", "RAID", "SHUTTLE")
    assert "There are none" in shooting.kim.get("/now?show=below").says


def test_a_roll_on_no_card_any_more_stands_first_with_unknown_size_as_unknown(
    shooting: Crew,
) -> None:
    camera.pull(shooting.harbour.service, LEE, "S-015")
    danger(shooting)
    listed = shooting.kim.get("/now?show=below")
    assert before(listed, "A001 on no card any more; it was on S-014", "B001 on S-015")
    assert "unknown no copy is logged" in listed.says


def test_what_is_no_danger_is_a_count_that_leads_to_its_list(shooting: Crew) -> None:
    service = shooting.harbour.service
    shooting.harbour.checked("S-014", "RAID", "SHUTTLE")
    camera.format_in_camera(service, LEE, "S-014", camera="A")
    page = shooting.kim.get("/now")
    assert "No danger found." in page.says
    assert "warnings and notes 1" in page.says
    listed = shooting.kim.get("/now?show=warnings")
    assert "Formatted without a clearing that stood; everything on it was backed up." in listed.says
    assert "Nothing is lost. Remind the crew" in listed.says
    assert "/cards/S-014" in listed.read.links


def test_a_danger_that_was_mended_says_that_it_waits_for_a_person(shooting: Crew) -> None:
    danger(shooting)
    assert shooting.harbour.mishaps("S-014") == [("formatted_uncovered", "A001")]
    for drive in ("RAID", "SHUTTLE"):
        copies.copy_checked(
            shooting.harbour.service, CART, "S-014", drive, "checksummed", proof="5e" * 32,
            roll="A001",
        )  # fmt: skip
    assert (
        "It has its copies by now. Look at them, and settle this" in shooting.kim.get("/now").says
    )


def test_a_roll_that_lost_its_copies_after_it_was_wiped_is_in_danger(shooting: Crew) -> None:
    service = shooting.harbour.service
    shooting.harbour.checked("S-014", "RAID", "SHUTTLE")
    clear(service, KIM, "S-014")
    camera.format_in_camera(service, LEE, "S-014", camera="A")
    acts_drive.fail_drive(service, KIM, "SHUTTLE")
    page = shooting.kim.get("/now")
    assert "A roll was backed up when its card was wiped, and is not any more." in page.says


def test_many_cards_come_in_pieces_and_many_dangers_behind_one_link(
    shooting: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "AT_ONCE", 2)
    monkeypatch.setattr(module, "FEW", 0)
    first = shooting.kim.get("/now?case=blue")
    assert "Cards 1 to 2 of 3." in first.says
    assert "/now?case=blue&from=2#next" in first.read.links
    second = shooting.kim.get("/now?case=blue&from=2")
    assert [link for link in second.read.links if link.startswith("/cards/")] == ["/cards/S-016"]
    assert "/now?case=blue&from=0#next" in second.read.links
    for mad in ("-1", "x", "99999999999", "٣", ""):
        assert shooting.kim.get(f"/now?from={mad}").status == 200
    danger(shooting)
    assert "Show all 1 in danger" in shooting.kim.get("/now").says
    assert "S-014, roll A001" in shooting.kim.get("/now?show=dangers").says


def test_the_rule_is_told_as_it_stands(crew: Crew) -> None:
    set_rule(crew.harbour.service, KIM, RECOMMENDED)
    assert "3 copies" in crew.kim.get("/now").says


def test_a_label_may_hold_any_sign(crew: Crew) -> None:
    label = "S/14 é?%41<b>"
    card.register_card(crew.harbour.service, KIM, label, "2.5in SSD", 1_000 * GB)
    page = crew.kim.get("/now")
    assert "/cards/S/14%20%C3%A9%3F%2541%3Cb%3E" in page.read.links
    assert f"{label} unseen DO NOT FORMAT unknown Look at what is on it" in page.says
