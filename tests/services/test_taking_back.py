"""A mistake is taken back, and what was taken back can be restored."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from tests.services.harbour import GB, KIM, LEE, Harbour
from tracker.services import acts_back as back
from tracker.services import acts_camera as camera
from tracker.services import acts_card as cards
from tracker.services import acts_copies as copies
from tracker.services import acts_day as day
from tracker.services import acts_drive as drives
from tracker.services.acts_back import CannotTakeBack
from tracker.services.errors import Conflict
from tracker.services.service import Who, new_id
from tracker.store import tables as t


def test_take_back_and_take_back_the_taking_back(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "A")
    harbour.clock.wait()
    pulled = camera.pull(service, LEE, "S-014").new[0]
    gone = back.take_back(service, LEE, pulled.id, "it is still in").new[0]
    assert harbour.status("S-014") == "loaded"
    back.take_back(service, LEE, gone.id)
    assert harbour.status("S-014") == "exposed"
    assert [fact.event for fact in harbour.facts("S-014")][-3:] == ["pulled", "voided", "voided"]
    assert harbour.agrees()


def test_nothing_is_taken_back_twice(harbour: Harbour) -> None:
    noted = cards.note(harbour.service, LEE, "S-014", "a scratch").new[0]
    back.take_back(harbour.service, LEE, noted.id)
    with pytest.raises(CannotTakeBack, match="taken back already"):
        back.take_back(harbour.service, LEE, noted.id)
    with pytest.raises(CannotTakeBack, match="there is no fact with the id"):
        back.take_back(harbour.service, LEE, new_id())


def test_my_last_is_mine_and_the_whole_tap(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "A")
    harbour.clock.wait(30)
    camera.swap(service, LEE, "S-015", "A")
    cards.note(service, KIM, "S-016", "not Lee's")
    assert [fact.event for fact in back.my_last(service, LEE)] == ["loaded", "pulled"]
    done = back.take_back_last(service, LEE)
    assert [fact.event for fact in done.new] == ["voided", "voided"]
    assert [harbour.status(s) for s in ("S-014", "S-015")] == ["loaded", "cleared"]
    back.take_back_last(service, LEE)
    assert harbour.status("S-014") == "cleared"
    with pytest.raises(CannotTakeBack, match="nothing that you logged lately"):
        back.take_back_last(service, LEE)
    with pytest.raises(CannotTakeBack):
        back.take_back_last(service, Who())
    assert harbour.agrees()


def test_several_cards_of_one_tap_go_back_together(harbour: Harbour) -> None:
    service = harbour.service
    cards.note(service, LEE, "S-014", "before")
    cards.hand_over(service, LEE, ["S-014", "S-015", "S-016"], "Kim", "cart")
    assert len(back.take_back_last(service, LEE).new) == 3
    assert [fact.event for fact in back.my_last(service, LEE)] == ["noted"]


def test_taking_back_is_one_tap_too(harbour: Harbour) -> None:
    service, tap = harbour.service, new_id()
    first = cards.note(service, LEE, "S-014", "first").new[0]
    cards.note(service, LEE, "S-014", "second")
    back.take_back_last(service, LEE, tap=tap)
    assert back.take_back_last(service, LEE, tap=tap).again == [tap]
    assert [fact.id for fact in back.my_last(service, LEE)] == [first.id]
    with pytest.raises(Conflict):
        back.take_back_last(service, LEE, tap=first.id)


def test_a_registration_in_use_stays(harbour: Harbour) -> None:
    registered = harbour.facts("S-014")[0]
    with pytest.raises(CannotTakeBack, match="S-014 is in use"):
        back.take_back(harbour.service, KIM, registered.id)


def test_a_registration_that_nobody_used_goes_and_its_label_is_free(harbour: Harbour) -> None:
    service = harbour.service
    wrong = cards.register_card(service, KIM, "S-071", "2.5in SSD", 1_000 * GB).new[0]
    gone = back.take_back(service, KIM, wrong.id).new[0]
    assert "S-071" not in harbour.labels()
    assert harbour.agrees()
    cards.register_card(service, KIM, "S-071", "CFast", 512 * GB)
    assert harbour.status("S-071") == "unseen"
    with pytest.raises(CannotTakeBack, match="S-071 is on another card since"):
        back.take_back(service, KIM, gone.id)
    assert harbour.agrees()


def test_a_new_label_is_taken_back(harbour: Harbour) -> None:
    service = harbour.service
    relabelled = cards.relabel(service, KIM, "S-014", "S-114").new[0]
    harbour.clock.wait()
    cards.note(service, KIM, "S-114", "said of the new label")
    gone = back.take_back(service, KIM, relabelled.id).new[0]
    assert harbour.labels() == ["S-014", "S-015", "S-016"]
    cards.note(service, KIM, "S-014", "said of the old label")
    back.take_back(service, KIM, gone.id)
    assert harbour.labels() == ["S-015", "S-016", "S-114"]


def test_a_new_label_stays_if_the_old_one_is_used_again(harbour: Harbour) -> None:
    service = harbour.service
    relabelled = cards.relabel(service, KIM, "S-014", "S-114").new[0]
    harbour.clock.wait()
    cards.register_card(service, KIM, "S-014", "2.5in SSD", 1_000 * GB)
    with pytest.raises(CannotTakeBack, match="the label S-014 is used again"):
        back.take_back(service, KIM, relabelled.id)
    assert harbour.agrees()


def test_a_new_label_stays_if_another_card_was_given_the_old_one(harbour: Harbour) -> None:
    service = harbour.service
    relabelled = cards.relabel(service, KIM, "S-014", "S-114").new[0]
    harbour.clock.wait()
    cards.relabel(service, KIM, "S-015", "S-014")
    with pytest.raises(CannotTakeBack, match="the label S-014 is used again"):
        back.take_back(service, KIM, relabelled.id)


def test_a_label_that_is_on_another_card_by_now_does_not_come_back(harbour: Harbour) -> None:
    service = harbour.service
    relabelled = cards.relabel(service, KIM, "S-014", "S-114").new[0]
    gone = back.take_back(service, KIM, relabelled.id).new[0]
    harbour.clock.wait()
    cards.register_card(service, KIM, "S-114", "2.5in SSD", 1_000 * GB)
    with pytest.raises(CannotTakeBack, match="the label S-114 is on another card"):
        back.take_back(service, KIM, gone.id)
    assert harbour.agrees()


def test_what_was_said_under_an_old_label_is_taken_back_by_the_new_one(harbour: Harbour) -> None:
    service = harbour.service
    aside = cards.set_aside(service, KIM, "S-014", "looks bent").new[0]
    cards.relabel(service, KIM, "S-014", "S-114")
    harbour.clock.wait()
    back.take_back(service, KIM, aside.id)
    assert harbour.status("S-114") == "cleared"


def test_facts_of_drives_units_and_the_production_are_taken_back(harbour: Harbour) -> None:
    service = harbour.service
    lost = drives.lose_drive(service, KIM, "RAID").new[0]
    called = day.call_unit(service, KIM, "main").new[0]
    counted = day.count(service, KIM, ["S-014"]).logged.new[0]
    events = [
        back.take_back(service, KIM, fact.id).new[0].event for fact in (lost, called, counted)
    ]
    assert events == ["voided"] * 3
    assert harbour.agrees()


def test_a_drive_with_copies_stays(harbour: Harbour) -> None:
    service = harbour.service
    nas = drives.register_drive(service, KIM, "NAS", "raid", 10 * GB, "on set").new[0]
    drives.set_todays_drives(service, KIM, ["NAS", "RAID"])
    camera.swap(service, LEE, "S-014", "A")
    kept = copies.offloaded(service, LEE, ["S-014"])
    with pytest.raises(CannotTakeBack, match="NAS is in use"):
        back.take_back(service, KIM, nas.id)
    assert drives.todays_drives(service) == ["NAS", "RAID"]
    assert len(kept.new) == 2


def test_a_drive_that_nobody_used_goes(harbour: Harbour) -> None:
    service = harbour.service
    nas = drives.register_drive(service, KIM, "NAS", "raid", 10 * GB, "on set").new[0]
    drives.set_todays_drives(service, KIM, ["NAS", "RAID"])
    back.take_back(service, KIM, nas.id)
    assert drives.todays_drives(service) == ["RAID"]
    assert harbour.agrees()


def test_what_is_taken_back_of_a_card_leaves_the_world_as_it_is(harbour: Harbour) -> None:
    def world() -> int | None:
        with harbour.service.store.reading() as conn:
            return conn.scalar(select(t.Production.context))

    noted = cards.note(harbour.service, LEE, "S-014", "a scratch").new[0]
    before = world()
    back.take_back(harbour.service, LEE, noted.id)
    assert world() == before


def test_a_late_tap_is_taken_back_where_it_stands(harbour: Harbour) -> None:
    service, clock = harbour.service, harbour.clock
    camera.load(service, LEE, "S-014", "A", formatted=True)
    clock.wait(60)
    camera.pull(service, LEE, "S-014", at=clock.now - timedelta(minutes=30))
    back.take_back_last(service, LEE)
    assert harbour.status("S-014") == "loaded"
