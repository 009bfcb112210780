"""A batch is all or nothing, and names every line at fault; taking back works within it."""

from __future__ import annotations

from typing import Any

import pytest

from tests.services.harbour import KIM, LEE, Harbour
from tracker.domain.errors import LabelInUse, UnknownLabel
from tracker.services import acts_back as back
from tracker.services import acts_card as cards
from tracker.services import acts_copies as copies
from tracker.services.acts_back import CannotTakeBack
from tracker.services.errors import Conflict, Refused
from tracker.services.logging import Said, log_history, log_live
from tracker.services.said import heard_in
from tracker.services.service import new_id
from tracker.wire.faults import BadInput
from tracker.wire.jsonlines import read_json_lines

Obj = dict[str, Any]


def tell(harbour: Harbour, event: str, card: str | None = "S-014", **fields: Any) -> Obj:
    """A fact as it is sent, a minute after the one before."""
    harbour.clock.wait(1)
    about = {} if card is None else {"card": card}
    at = harbour.clock.now.isoformat()
    return {"id": new_id(), "event": event, **about, "occurred_at": at, **fields}


def registered(harbour: Harbour, card: str) -> Obj:
    return tell(harbour, "registered", card, media="CFast", capacity_bytes=512 * 10**9)


def lines(objs: list[Obj]) -> list[Said]:
    return [Said(obj, "day.jsonl", line) for line, obj in enumerate(objs, start=1)]


def at_fault(found: BadInput) -> list[tuple[int | None, str | None]]:
    return [(fault.line, fault.field) for fault in found.faults]


LOG = pytest.mark.parametrize("log", [log_live, log_history])


# Every line at fault


@LOG
def test_every_line_at_fault_is_named(harbour: Harbour, log: Any) -> None:
    said = tell(harbour, "noted", text="a scratch")
    log_live(harbour.service, [said], who=LEE)
    before = harbour.count()
    batch = [
        tell(harbour, "noted", text="fine"),
        tell(harbour, "noted", "S-999", text="no such card"),
        tell(harbour, "noted", txt="no such field"),
        {**said, "text": "two scratches"},
        tell(harbour, "copy_finished", drive="NAS"),
        tell(harbour, "relabelled", new_label="S-015"),
        said,
    ]
    with pytest.raises(BadInput) as refused:
        log(harbour.service, lines(batch))
    assert at_fault(refused.value) == [
        (2, "card"),
        (3, "txt"),
        (3, "text"),
        (4, "id"),
        (5, "drive"),
        (6, "new_label"),
    ]
    assert {fault.file for fault in refused.value.faults} == {"day.jsonl"}
    assert harbour.count() == before
    assert harbour.agrees()


def test_a_live_batch_names_cameras_and_what_only_a_reader_says(harbour: Harbour) -> None:
    batch = [
        tell(harbour, "loaded", camera="Q"),
        tell(harbour, "pulled", "S-015", bytes=5, measured=True),
        tell(harbour, "loaded", "S-016", camera="B"),
    ]
    with pytest.raises(BadInput) as refused:
        log_live(harbour.service, lines(batch), who=LEE)
    assert at_fault(refused.value) == [(1, "camera"), (2, "measured")]
    assert harbour.agrees()


@LOG
def test_a_line_is_not_at_fault_for_what_another_should_have_said(
    harbour: Harbour, log: Any
) -> None:
    batch = [
        {**registered(harbour, "S-071"), "capacity_bytes": "much"},
        tell(harbour, "checked_in", "S-071", found="empty"),
    ]
    with pytest.raises(BadInput) as refused:
        log(harbour.service, lines(batch))
    assert at_fault(refused.value) == [(1, "capacity_bytes")]


@LOG
def test_two_new_labels_that_nobody_has_are_both_at_fault(harbour: Harbour, log: Any) -> None:
    batch = [
        tell(harbour, "relabelled", "X-1", new_label="X-2"),
        tell(harbour, "relabelled", "X-2", new_label="X-1"),
    ]
    with pytest.raises(BadInput) as refused:
        log(harbour.service, lines(batch))
    assert [line for line, _ in at_fault(refused.value)] == [1, 2]


def test_what_cannot_be_read_is_named_with_all_the_rest(harbour: Harbour) -> None:
    text = (
        b'{"event": \n' + str(tell(harbour, "noted", "S-999", text="?")).replace("'", '"').encode()
    )
    said = heard_in([read_json_lines(text, "day.jsonl")])
    with pytest.raises(BadInput) as refused:
        log_history(harbour.service, said)
    assert [fault.line for fault in refused.value.faults] == [1, 2]


def test_leave_to_clear_that_is_all_that_is_missing_is_refused(harbour: Harbour) -> None:
    batch = [
        tell(harbour, "loaded", camera="A", roll="A001", formatted=True),
        tell(harbour, "pulled"),
        tell(harbour, "cleared"),
    ]
    with pytest.raises(Refused):
        log_live(harbour.service, lines(batch), who=KIM)
    other = tell(harbour, "noted", "S-999", text="?")
    with pytest.raises(BadInput) as refused:
        log_live(harbour.service, lines([*batch, other]), who=KIM)
    assert {line for line, _ in at_fault(refused.value)} == {3, 4}
    # What was said wrong of the card may be what the clearing lacks.
    wrong = tell(harbour, "copy_finished", drive="NAS")
    with pytest.raises(BadInput) as refused:
        log_live(harbour.service, lines([*batch[:2], wrong, batch[2]]), who=KIM)
    assert {line for line, _ in at_fault(refused.value)} == {3}


def test_alone_the_error_itself_is_raised(harbour: Harbour) -> None:
    said = tell(harbour, "noted", text="a scratch")
    for log in (log_live, log_history):
        log(harbour.service, [Said(said)])
        with pytest.raises(Conflict):
            log(harbour.service, [Said({**said, "text": "two"})])
        with pytest.raises(UnknownLabel):
            log(harbour.service, [Said(tell(harbour, "noted", "S-999", text="?"))])
        with pytest.raises(LabelInUse):
            log(harbour.service, [Said(tell(harbour, "relabelled", new_label="S-015"))])


# Taking back within a batch


@LOG
def test_a_new_label_that_is_taken_back_at_once(harbour: Harbour, log: Any) -> None:
    given = tell(harbour, "relabelled", "S-014", new_label="S-114")
    batch = [
        given,
        tell(harbour, "noted", "S-114", text="said of the new label"),
        tell(harbour, "voided", "S-114", target=given["id"], reason="misread"),
        tell(harbour, "noted", "S-014", text="said of the old label"),
    ]
    logged = log(harbour.service, lines(batch))
    assert len(logged.new) == 4
    assert harbour.labels() == ["S-014", "S-015", "S-016"]
    assert len(harbour.facts("S-014")) == 6
    assert harbour.agrees()


@LOG
def test_a_label_that_was_taken_back_is_given_to_another(harbour: Harbour, log: Any) -> None:
    given = tell(harbour, "relabelled", "S-014", new_label="S-114")
    batch = [
        given,
        tell(harbour, "noted", "S-114", text="said of the new label"),
        tell(harbour, "voided", "S-114", target=given["id"], reason="misread"),
        tell(harbour, "relabelled", "S-015", new_label="S-114"),
        tell(harbour, "noted", "S-114", text="said of the other card"),
    ]
    log(harbour.service, lines(batch))
    assert harbour.labels() == ["S-014", "S-016", "S-114"]
    texts = [[getattr(f, "text", "") for f in harbour.facts(s)][-1] for s in ("S-014", "S-114")]
    assert texts == ["", "said of the other card"]
    assert [f.event for f in harbour.facts("S-014")][-3:] == ["relabelled", "noted", "voided"]
    assert harbour.agrees()


@LOG
def test_a_label_of_the_journal_is_taken_back_and_used_in_one_batch(
    harbour: Harbour, log: Any
) -> None:
    given = cards.relabel(harbour.service, KIM, "S-014", "S-114").new[0]
    batch = [
        tell(harbour, "voided", "S-114", target=given.id, reason="misread"),
        tell(harbour, "noted", "S-014", text="said of the old label"),
    ]
    log(harbour.service, lines(batch))
    assert harbour.labels() == ["S-014", "S-015", "S-016"]
    assert harbour.agrees()


@LOG
def test_a_registration_goes_and_comes_back(harbour: Harbour, log: Any) -> None:
    card = registered(harbour, "S-071")
    gone = tell(harbour, "voided", "S-071", target=card["id"], reason="not ours")
    log(harbour.service, lines([card, gone]))
    assert "S-071" not in harbour.labels()
    assert harbour.agrees()
    again = tell(harbour, "voided", "S-071", target=gone["id"], reason="ours after all")
    log(harbour.service, lines([again, tell(harbour, "checked_in", "S-071", found="empty")]))
    assert harbour.status("S-071") == "cleared"
    assert harbour.agrees()


@LOG
def test_a_registration_goes_and_comes_back_in_one_batch(harbour: Harbour, log: Any) -> None:
    card = registered(harbour, "S-071")
    gone = tell(harbour, "voided", "S-071", target=card["id"], reason="not ours")
    again = tell(harbour, "voided", "S-071", target=gone["id"], reason="ours after all")
    log(harbour.service, lines([card, gone, again]))
    assert harbour.status("S-071") == "unseen"
    assert harbour.agrees()


def test_a_person_takes_back_the_taking_back_of_a_registration(harbour: Harbour) -> None:
    service = harbour.service
    card = cards.register_card(service, KIM, "S-071", "CFast", 512 * 10**9).new[0]
    copy = copies.copy_finished(service, KIM, "S-071", "RAID").new[0]
    back.take_back(service, KIM, copy.id)
    gone = back.take_back(service, KIM, card.id).new[0]
    assert "S-071" not in harbour.labels()
    back.take_back(service, KIM, gone.id)
    assert harbour.status("S-071") == "unseen"
    assert harbour.agrees()


def test_a_registration_comes_back_with_what_rests_on_it(harbour: Harbour) -> None:
    service = harbour.service
    card = registered(harbour, "S-071")
    noted = tell(harbour, "noted", "S-071", text="a scratch")
    gone = tell(harbour, "voided", "S-071", target=card["id"], reason="not ours")
    log_history(service, lines([card, noted, gone]))
    assert "S-071" in harbour.labels()
    last = back.take_back(service, KIM, noted["id"]).new[0]
    assert "S-071" not in harbour.labels()
    assert harbour.agrees()
    back.take_back(service, KIM, last.id)
    assert "S-071" in harbour.labels()
    assert harbour.agrees()


@LOG
def test_a_label_that_is_on_another_card_since_does_not_come_back(
    harbour: Harbour, log: Any
) -> None:
    service = harbour.service
    card = cards.register_card(service, KIM, "S-071", "CFast", 512 * 10**9).new[0]
    gone = back.take_back(service, KIM, card.id).new[0]
    cards.register_card(service, KIM, "S-071", "2.5in SSD", 10**12)
    with pytest.raises(CannotTakeBack, match="the label S-071 is on another card since"):
        back.take_back(service, KIM, gone.id)
    again = tell(harbour, "voided", "S-071", target=gone.id, reason="ours after all")
    with pytest.raises(LabelInUse):
        log(service, [Said(again)])
    assert harbour.agrees()
