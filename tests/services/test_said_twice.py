"""A tap that arrives twice is one; what is wrong takes nothing."""

from __future__ import annotations

from typing import Any

import pytest

from tests.services.harbour import CART, GB, KIM, LEE, Harbour
from tracker.domain.errors import LabelInUse, UnknownLabel
from tracker.services import acts_camera as camera
from tracker.services import acts_card as cards
from tracker.services import acts_copies as copies
from tracker.services import acts_drive as drives
from tracker.services.errors import Conflict
from tracker.services.logging import log_live
from tracker.services.service import new_id
from tracker.wire.faults import BadInput


def noted(harbour: Harbour, text: str = "a scratch", **more: Any) -> dict[str, Any]:
    obj = {"id": new_id(), "event": "noted", "card": "S-014", "text": text}
    return {**obj, "occurred_at": harbour.clock.now.isoformat(), **more}


def test_the_same_fact_twice_is_one(harbour: Harbour) -> None:
    obj = noted(harbour)
    first = log_live(harbour.service, [obj], who=LEE)
    before = harbour.count()
    again = log_live(harbour.service, [{**obj, "sent_at": obj["occurred_at"]}, obj], who=LEE)
    assert ([f.id for f in first.new], first.again) == ([obj["id"]], [])
    assert (again.new, again.again) == ([], [obj["id"], obj["id"]])
    assert harbour.count() == before


def test_an_id_with_another_body_is_a_conflict(harbour: Harbour) -> None:
    obj = noted(harbour)
    log_live(harbour.service, [obj], who=LEE)
    with pytest.raises(Conflict) as conflict:
        log_live(harbour.service, [{**obj, "text": "two scratches"}], who=LEE)
    assert conflict.value.fact_id == obj["id"]


def test_a_tap_may_come_again_later_and_is_the_same(harbour: Harbour) -> None:
    service, tap = harbour.service, new_id()
    both = ["S-014", "S-015"]
    cards.hand_over(service, LEE, both, "Kim", "cart", tap=tap)
    harbour.clock.wait(3)
    again = cards.hand_over(service, LEE, both, "Kim", "cart", tap=tap)
    assert (again.new, len(again.again)) == ([], 2)
    with pytest.raises(Conflict):
        cards.hand_over(service, LEE, both, "Kim", "lab", tap=tap)
    with pytest.raises(Conflict):
        copies.offloaded(service, LEE, ["S-014"], tap=tap)


def test_a_tap_whose_id_is_none_is_refused_by_its_field(harbour: Harbour) -> None:
    with pytest.raises(BadInput, match="id: found 'tap 1', expected a UUID"):
        cards.hand_over(harbour.service, LEE, ["S-014", "S-015"], "Kim", "cart", tap="tap 1")


def test_nothing_is_taken_if_one_of_several_is_wrong(harbour: Harbour) -> None:
    before = harbour.count()
    with pytest.raises(UnknownLabel):
        log_live(harbour.service, [noted(harbour), noted(harbour, card="S-999")], who=LEE)
    with pytest.raises(BadInput):
        log_live(harbour.service, [noted(harbour), noted(harbour, txt="?")], who=LEE)
    assert harbour.count() == before
    assert harbour.agrees()


def test_a_drive_that_was_not_taken_is_not_remembered(harbour: Harbour) -> None:
    at = harbour.clock.now.isoformat()
    nas = {"id": new_id(), "event": "drive_registered", "occurred_at": at, "drive": "NAS"}
    nas |= {"kind": "raid", "capacity_bytes": 10, "place": "on set"}
    with pytest.raises(UnknownLabel):
        log_live(harbour.service, [nas, noted(harbour, card="S-999")], who=KIM)
    drives.register_drive(harbour.service, KIM, "TAPE", "tape", 10, "on set")
    camera.swap(harbour.service, LEE, "S-014", "A")
    with pytest.raises(UnknownLabel, match="no drive has the label 'NAS'"):
        copies.copy_finished(harbour.service, KIM, "S-014", "NAS")
    copies.copy_finished(harbour.service, KIM, "S-014", "TAPE")
    assert harbour.agrees()


def test_a_dry_run_leaves_nothing(harbour: Harbour) -> None:
    before = harbour.count()
    tried = log_live(harbour.service, [noted(harbour)], who=LEE, dry_run=True)
    assert (len(tried.new), harbour.count()) == (1, before)


def test_an_unknown_label_is_answered_with_the_nearest(harbour: Harbour) -> None:
    with pytest.raises(UnknownLabel) as unknown:
        camera.pull(harbour.service, LEE, "S-0I4")
    assert unknown.value.nearest[0] == "S-014"


def test_measured_is_believed_from_a_reader_only(harbour: Harbour) -> None:
    service = harbour.service
    camera.swap(service, LEE, "S-014", "A")
    with pytest.raises(BadInput, match="only a cart computer's reader counts"):
        camera.pull(service, LEE, "S-014", bytes_=480 * GB, measured=True)
    camera.pull(service, CART, "S-014", bytes_=480 * GB, measured=True)
    with pytest.raises(BadInput, match="only a cart computer's reader counts"):
        copies.copy_finished(service, KIM, "S-014", "RAID", bytes_=480 * GB, measured=True)
    copies.copy_finished(service, CART, "S-014", "RAID", bytes_=480 * GB - 1, measured=True)
    assert harbour.mishaps("S-014") == [("copy_short", "A001")]


def test_a_known_card_registered_again_stays_as_it_is(harbour: Harbour) -> None:
    again = cards.register_card(harbour.service, KIM, "S-014", "CFast", 5 * GB)
    assert (again.new, len(again.again)) == ([], 1)
    assert harbour.card("S-014").status == "cleared"


def test_a_label_is_on_one_card_at_a_time(harbour: Harbour) -> None:
    with pytest.raises(LabelInUse):
        cards.relabel(harbour.service, KIM, "S-014", "S-015")
    cards.relabel(harbour.service, KIM, "S-014", "S-114")
    assert harbour.labels() == ["S-015", "S-016", "S-114"]
    assert harbour.agrees()
