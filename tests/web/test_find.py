"""Find: what a scanner or a person types leads straight to what is meant, or to what is near."""

from __future__ import annotations

import pytest

from tests.services.harbour import GB, KIM, LEE
from tests.web.visitor import Crew, Page
from tracker.services import acts_camera as camera
from tracker.services import acts_card as card
from tracker.services import acts_copies as copies
from tracker.services import acts_drive, codes
from tracker.services.acts_day import set_camera
from tracker.services.codes import allot_missing, by_label


@pytest.fixture
def shot(crew: Crew) -> Crew:
    """A001 on S-014; a card and a drive with serial numbers."""
    service, clock = crew.harbour.service, crew.harbour.clock
    camera.load(service, LEE, "S-014", "A", roll="A001", formatted=True)
    clock.wait(60)
    camera.pull(service, LEE, "S-014", bytes_=480 * GB)
    card.register_card(service, KIM, "S/17 é", "2.5in SSD", 1_000 * GB, serial="XK-4411")
    acts_drive.register_drive(service, KIM, "LEG-1", "hdd", 8_000 * GB, "on set", serial="WZ 0099")
    allot_missing(service)
    return crew


def led(crew: Crew, typed: str) -> str:
    """Where somebody is led at once; nowhere if they are not."""
    answer = crew.kim.client.get("/find", query_string={"q": typed})
    assert answer.status_code in (200, 303)
    return answer.headers.get("Location", "nowhere")


def asked(crew: Crew, typed: str) -> Page:
    """What is shown to somebody who is led nowhere."""
    assert led(crew, typed) == "nowhere"
    answer = crew.kim.client.get("/find", query_string={"q": typed})
    return crew.kim._page(answer)


@pytest.mark.parametrize(
    ("typed", "where"),
    [
        ("S-014", "/cards/S-014"),
        (" s-014\n", "/cards/S-014"),
        ("S/17 é", "/cards/S/17%20%C3%A9"),
        ("s/17 É", "/cards/S/17%20%C3%A9"),
        ("raid", "/drives/RAID"),
        ("A", "/camera/A"),
        ("b", "/camera/B"),
        ("a001", "/cards/S-014"),
        ("xk-4411", "/cards/S/17%20%C3%A9"),
        ("WZ 0099", "/drives/LEG-1"),
        ("http://cart.local:8000/C/k7q2", "/c/K7Q2"),
        ("HTTPS://CART.LOCAL/C/K7Q2/", "/c/K7Q2"),
        ("cart/c/K7Q2?x=1", "/c/K7Q2"),
    ],
)
def test_what_is_meant_is_shown_at_once(shot: Crew, typed: str, where: str) -> None:
    assert led(shot, typed) == where


@pytest.mark.parametrize("label", ["S-014", "RAID"])
def test_a_short_code_leads_to_its_own_page_in_any_case(shot: Crew, label: str) -> None:
    coded = by_label(shot.harbour.service, label)
    assert coded is not None and coded.code is not None
    assert led(shot, coded.code.lower()) == f"/c/{coded.code}"


def test_a_label_goes_before_a_code_and_before_a_roll(shot: Crew) -> None:
    service = shot.harbour.service
    coded = by_label(service, "S-014")
    assert coded is not None and coded.code is not None
    card.register_card(service, KIM, coded.code, "2.5in SSD", 1_000 * GB)
    card.register_card(service, KIM, "A001", "2.5in SSD", 1_000 * GB)
    assert led(shot, coded.code) == f"/cards/{coded.code}"
    assert led(shot, "A001") == "/cards/A001"


def test_a_code_with_a_slip_in_it_is_said_to_be_one(shot: Crew) -> None:
    coded = by_label(shot.harbour.service, "S-014")
    assert coded is not None and coded.code is not None
    last = "3" if coded.code[-1] != "3" else "4"
    says = asked(shot, coded.code[:-1] + last).says
    assert "Whether it is a label or a code, it was mistyped: look again." in says
    assert "Nothing is called that." in says


def test_several_that_differ_in_case_only_are_all_shown(shot: Crew) -> None:
    card.register_card(shot.harbour.service, KIM, "s-014", "2.5in SSD", 1_000 * GB)
    card.register_card(shot.harbour.service, KIM, "Raid", "2.5in SSD", 1_000 * GB)
    assert led(shot, "s-014") == "/cards/s-014"
    assert led(shot, "S-014") == "/cards/S-014"
    page = asked(shot, "raiD")
    assert "Several are called that" in page.says
    assert {"/drives/RAID", "/cards/Raid"} <= set(page.read.links)


def test_a_card_and_a_camera_of_one_name_are_both_shown(shot: Crew) -> None:
    set_camera(shot.harbour.service, KIM, "RAID", "main")
    page = asked(shot, "RAID")
    assert {"/drives/RAID", "/camera/RAID"} <= set(page.read.links)


def test_a_former_label_leads_to_the_card_that_has_it_now_and_says_so(shot: Crew) -> None:
    card.relabel(shot.harbour.service, KIM, "S-014", "T-001")
    page = asked(shot, "s-014")
    assert "S-014 is now called T-001" in page.says
    assert "/cards/T-001" in page.read.links


def test_a_former_label_that_another_card_has_now_means_that_card(shot: Crew) -> None:
    service = shot.harbour.service
    card.relabel(service, KIM, "S-014", "T-001")
    shot.harbour.clock.wait(5)
    card.register_card(service, KIM, "S-014", "2.5in SSD", 1_000 * GB)
    assert led(shot, "S-014") == "/cards/S-014"


def test_a_roll_that_is_on_no_card_any_more_is_shown_with_its_copies(shot: Crew) -> None:
    service = shot.harbour.service
    acts_drive.set_todays_drives(service, KIM, ["RAID"])
    copies.offloaded(service, LEE, ["S-014"])
    shot.harbour.clock.wait()
    camera.format_in_camera(service, LEE, "S-014", camera="A")
    page = asked(shot, "A001")
    assert "Roll A001, camera A, 2026-03-02 10:10" in page.says
    assert "On no card any more. It was on card S-014. Its copies:" in page.says
    assert "Below the backup rule." in page.says
    assert "RAID: claimed, on set; does not count" in page.says
    assert {"/cards/S-014", "/drives/RAID"} <= set(page.read.links)


def test_two_rolls_of_one_name_are_both_shown(shot: Crew) -> None:
    camera.load(shot.harbour.service, LEE, "S-016", "B", roll="A001", formatted=True)
    page = asked(shot, "A001")
    assert "2 rolls A001" in page.says
    assert {"/cards/S-014", "/cards/S-016"} <= set(page.read.links)
    assert "Being shot on card S-016 loaded" in page.says


def test_a_roll_is_found_by_the_name_it_had_before(shot: Crew) -> None:
    camera.rename_roll(shot.harbour.service, LEE, "S-014", "A001", "Ä%_2")
    assert led(shot, "A001") == "/cards/S-014"
    assert led(shot, "Ä%_2") == "/cards/S-014"
    assert led(shot, "Ä%x2") == "nowhere"


@pytest.mark.parametrize(
    ("typed", "near"),
    [
        ("S-O14", "Card S-014"),
        ("s014", "Card S-014"),
        ("S-01", "Card S-015"),
        ("RIAD", "Drive RAID"),
        ("441", "Card S/17 é serial number XK-4411"),
        ("A0O1", "Roll A001"),
    ],
)
def test_what_is_near_is_shown_with_its_kind(shot: Crew, typed: str, near: str) -> None:
    page = asked(shot, typed)
    assert "Nothing is called that. The nearest:" in page.says
    assert near in page.says


def test_near_is_what_a_card_was_called_too(shot: Crew) -> None:
    card.relabel(shot.harbour.service, KIM, "S-014", "T-001")
    assert "Card T-001 was S-014" in asked(shot, "S014").says


@pytest.mark.parametrize("typed", ["zzzzzz", "%", "_", "\\", "<script>", "é" * 300, "?"])
def test_what_nobody_knows_is_answered_plainly(shot: Crew, typed: str) -> None:
    page = asked(shot, typed)
    assert page.status == 200
    assert "Nothing is called that. Nothing is near it either" in page.says


@pytest.mark.parametrize("typed", ["", "   ", "\0"])
def test_where_nothing_is_typed_it_says_what_can_be(shot: Crew, typed: str) -> None:
    assert "Scan a label, or type what stands on it" in asked(shot, typed).says


def test_the_field_stands_on_every_page_and_keeps_what_was_typed(shot: Crew) -> None:
    assert "/find" in [form.action for form in shot.lee.get("/now").read.forms]
    assert asked(shot, "S-O14").form("Find").fields["q"] == "S-O14"


def test_for_a_loader_a_card_is_the_page_for_a_thumb(shot: Crew) -> None:
    coded = codes.by_label(shot.harbour.service, "S-014")
    assert coded is not None
    shot.lee.get("/find?q=s-014")
    assert shot.lee.at == f"/c/{coded.code}"
