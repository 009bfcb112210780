"""A day of the crew, as a story: what they tap, and what is true then."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.services.harbour import GB, KIM, LEE, Harbour
from tracker.services import acts_camera as camera
from tracker.services import acts_card as cards
from tracker.services import acts_clearing as clearing
from tracker.services import acts_copies as copies
from tracker.services import acts_day as day
from tracker.services import acts_drive as drives
from tracker.services.errors import Refused


def test_a_data_managers_day(harbour: Harbour) -> None:
    service, clock = harbour.service, harbour.clock
    day.call_unit(service, KIM, "main", day_number="12")
    drives.set_todays_drives(service, KIM, ["RAID", "SHUTTLE"])
    camera.load(service, LEE, "S-014", "A", formatted=True)
    assert harbour.status("S-014") == "loaded"

    clock.wait(60)
    camera.pull(service, LEE, "S-014", bytes_=480 * GB, clips=18)
    cards.hand_over(service, LEE, ["S-014"], "Kim", "cart")
    assert harbour.status("S-014") == "exposed"

    copies.copy_started(service, KIM, "S-014", "RAID")
    copies.copy_finished(service, KIM, "S-014", "RAID", bytes_=480 * GB, clips=18)
    with pytest.raises(Refused):
        clearing.clear(service, KIM, "S-014")
    harbour.checked("S-014", "RAID", "SHUTTLE")
    assert harbour.status("S-014") == "backed up"
    clearing.clear(service, KIM, "S-014")
    assert harbour.status("S-014") == "cleared"

    drives.move_drive(service, KIM, "SHUTTLE", "in transit", holder="Ari", seal="0071")
    day.wrap_unit(service, KIM, "main", day_number="12")
    assert harbour.mishaps("S-014") == []
    assert harbour.agrees()


def test_a_loaders_day(harbour: Harbour) -> None:
    service, clock = harbour.service, harbour.clock
    drives.set_todays_drives(service, KIM, ["RAID", "SHUTTLE"])
    for label in ("S-014", "S-015", "S-016"):
        camera.swap(service, LEE, label, "A")
        clock.wait(40)
    assert [harbour.status(label) for label in ("S-014", "S-015", "S-016")] == [
        "exposed",
        "exposed",
        "loaded",
    ]
    cards.hand_over(service, LEE, ["S-014", "S-015"], "Kim", "cart")
    said = copies.offloaded(service, LEE, ["S-014", "S-015"])
    assert len(said.new) == 4
    assert "not checked: leave the tape on" in said.notices[0]
    assert [harbour.status("S-014"), harbour.status("S-015")] == ["copied", "copied"]
    assert [fact.device for fact in said.new] == ["phone of Lee"] * 4
    assert harbour.agrees()


def test_what_else_a_crew_says(harbour: Harbour) -> None:
    service, clock = harbour.service, harbour.clock
    camera.swap(service, LEE, "S-014", "A")
    clock.wait()
    camera.format_in_camera(service, LEE, "S-014")
    camera.pull(service, LEE, "S-014")
    clearing.declare_empty(service, KIM, "S-014", "A001")
    assert harbour.status("S-014") == "ready"

    hurt = cards.note_damage(service, LEE, "S-015", "connector", 3, "bent pin").new[0]
    assert harbour.status("S-015") == "set aside"
    cards.settle_damage(service, KIM, "S-015", hurt.id, "straightened by the rental house")
    cards.return_to_service(service, KIM, "S-015", "reads well again")
    assert harbour.status("S-015") == "cleared"

    cards.report_missing(service, LEE, "S-016", place="camera truck")
    cards.found(service, LEE, "S-016", place="under the seat")
    cards.note(service, LEE, "S-016", "smells of coffee")
    cards.set_aside(service, KIM, "S-016", "smells of coffee")
    cards.retire(service, KIM, "S-016", "other", text="coffee")
    assert harbour.status("S-016") == "retired"
    assert harbour.agrees()


def test_a_roll_that_was_written_off_or_that_post_has_seen(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "A")
    camera.swap(service, LEE, "S-015", "A")
    clearing.write_off(
        service, KIM, "S-014", "A001", authorised_by="Noor", reason="camera test"
    )  # fmt: skip
    assert harbour.status("S-014") == "ready"
    camera.pull(service, LEE, "S-015")
    harbour.checked("S-015", "RAID", "SHUTTLE")
    clearing.received(service, KIM, "S-015", "A002", "the lab", "bad", text="drops out")
    assert harbour.mishaps("S-015") == [("post_says_bad", "A002")]
    made = harbour.facts("S-015")[-1].id
    cards.settle(service, KIM, "S-015", made, "post_says_bad", "the lab read another drive")
    assert harbour.mishaps("S-015") == []
    assert harbour.agrees()


def test_cleared_against_the_rule_and_withdrawn(harbour: Harbour) -> None:
    service, clock = harbour.service, harbour.clock
    camera.swap(service, LEE, "S-014", "A")
    camera.swap(service, LEE, "S-015", "A")
    clearing.clear_against_the_rule(
        service,
        KIM,
        "S-014",
        override_reason="no other card for tonight",
        authorised_by="Noor",
        promise="a second copy",
        promise_by="Kim",
        promise_until=clock.now + timedelta(hours=12),
    )
    assert harbour.status("S-014") == "cleared"
    assert ("cleared_by_override", None) in harbour.mishaps("S-014")
    clearing.withdraw_clearing(service, KIM, "S-014", "another card was found")
    assert harbour.status("S-014") == "exposed"
    assert harbour.agrees()


def test_a_visiting_card_is_taken_in_and_given_back(harbour: Harbour) -> None:
    service = harbour.service
    cards.take_in_visiting(service, LEE, "DRONE-1", "microSD", 256 * GB, owner="a pilot")
    cards.check_in(service, LEE, "DRONE-1", "footage")
    harbour.checked("DRONE-1", "RAID", "SHUTTLE")
    assert harbour.card("DRONE-1").next == "Give it back: nothing on it is uncovered."
    with pytest.raises(Refused):
        clearing.clear(service, KIM, "DRONE-1")
    assert harbour.agrees()


def test_a_copy_that_failed_and_one_that_was_lost(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "A")
    camera.swap(service, LEE, "S-015", "A")
    harbour.checked("S-014", "RAID", "SHUTTLE")
    copies.copy_lost(service, KIM, "S-014", "RAID", "folder deleted", roll="A001")
    assert harbour.status("S-014") == "exposed"
    copies.copy_started(service, KIM, "S-014", "VAULT", made_from="SHUTTLE")
    copies.copy_failed(service, KIM, "S-014", "VAULT", "interrupted")
    assert harbour.status("S-014") == "exposed"
    assert harbour.agrees()
