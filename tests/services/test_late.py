"""A phone without signal, or with a wrong clock."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from tests.services.harbour import LEE, Harbour
from tracker.domain.facts import Fact
from tracker.services import acts_camera as camera
from tracker.services.logging import Said, log_history, log_live
from tracker.services.service import Who, new_id


def pulled(at: datetime, **more: Any) -> dict[str, Any]:
    obj = {"id": new_id(), "event": "pulled", "card": "S-014", "occurred_at": at.isoformat()}
    return {**obj, **more}


def sent(harbour: Harbour, obj: dict[str, Any], who: Who = LEE) -> Fact:
    return log_live(harbour.service, [obj], who=who).new[0]


def test_a_tap_without_signal_arrives_later_with_its_own_time(harbour: Harbour) -> None:
    clock = harbour.clock
    camera.load(harbour.service, LEE, "S-014", "A", formatted=True)
    clock.wait(65)
    out = clock.now
    clock.wait(120)
    fact = sent(harbour, pulled(out, sent_at=clock.now.isoformat()))
    assert (fact.occurred_at, fact.raw_occurred_at, fact.clamped) == (out, None, False)
    assert fact.logged_at == clock.now
    assert harbour.mishaps("S-014") == []


def test_a_clock_that_is_wrong_is_corrected_by_its_offset(harbour: Harbour) -> None:
    clock = harbour.clock
    camera.load(harbour.service, LEE, "S-014", "A", formatted=True)
    clock.wait(60)
    wrong = timedelta(days=-400)
    said = clock.now + wrong
    clock.wait(20)
    fact = sent(harbour, pulled(said, sent_at=(clock.now + wrong).isoformat()))
    assert (fact.occurred_at, fact.raw_occurred_at) == (clock.ago(20), said)
    assert not fact.clamped
    assert harbour.status("S-014") == "exposed"
    kept = harbour.facts("S-014")[-1]
    assert (kept.occurred_at, kept.raw_occurred_at) == (clock.ago(20), said)
    assert harbour.agrees()


def test_a_time_that_a_device_may_not_claim_is_moved_and_doubted(harbour: Harbour) -> None:
    clock = harbour.clock
    camera.load(harbour.service, LEE, "S-014", "A", formatted=True)
    clock.wait(60)
    ahead = clock.now + timedelta(hours=2)
    fact = sent(harbour, pulled(ahead))
    assert (fact.occurred_at, fact.raw_occurred_at) == (clock.now + timedelta(minutes=5), ahead)
    assert fact.clamped
    assert harbour.mishaps("S-014") == [("order_doubtful", None)]


def test_a_device_that_was_heard_of_lately_does_not_tell_of_last_month(harbour: Harbour) -> None:
    clock = harbour.clock
    known = replace(LEE, last_exchange=clock.ago(30))
    fact = sent(harbour, pulled(clock.now - timedelta(days=31)), known)
    assert fact.occurred_at == clock.ago(30) - timedelta(days=7)
    assert fact.clamped


def test_a_device_that_was_never_heard_of_may(harbour: Harbour) -> None:
    long_ago = harbour.clock.now - timedelta(days=31)
    fact = sent(harbour, pulled(long_ago))
    assert (fact.occurred_at, fact.clamped) == (long_ago, False)


def test_history_is_taken_as_it_stands(harbour: Harbour) -> None:
    ahead = harbour.clock.now + timedelta(hours=2)
    obj = pulled(ahead, sent_at=(harbour.clock.now - timedelta(days=9)).isoformat())
    fact = log_history(harbour.service, [Said(obj)]).new[0]
    assert (fact.occurred_at, fact.raw_occurred_at, fact.clamped) == (ahead, None, False)


def test_a_late_fact_finds_its_place(harbour: Harbour) -> None:
    """The pull of the first card is sent when the second filling has begun long ago."""
    clock = harbour.clock
    camera.load(harbour.service, LEE, "S-014", "A", roll="A001", formatted=True)
    clock.wait(60)
    out = clock.now
    clock.wait(60)
    camera.load(harbour.service, LEE, "S-014", "A", roll="A002")
    assert ("pull_missing", "A001") in harbour.mishaps("S-014")
    clock.wait(60)
    sent(harbour, pulled(out, bytes=480_000_000_000))
    assert harbour.mishaps("S-014") == [("loaded_uncovered", "A001")]
    assert harbour.holds("S-014") == "A001\nA002"
    assert harbour.agrees()
