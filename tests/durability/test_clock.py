"""The clock is set back, or far ahead: every fact is kept, in the order in which it was logged."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from sqlalchemy import select

from tests.services.harbour import KIM, Clock, Harbour, begin
from tracker.services import acts_card as cards
from tracker.services.auditing import audit
from tracker.store import tables as t
from tracker.store.engine import Store


@pytest.fixture(params=["sqlite", "postgresql"])
def harbour(request: pytest.FixtureRequest, new_store: Callable[..., Store]) -> Harbour:
    return begin(new_store(request.param), Clock())


@pytest.mark.parametrize("days", [-3650, -1, -1 / 86_400, 0, 3650])
def test_the_clock_is_set(harbour: Harbour, days: float) -> None:
    cards.note(harbour.service, KIM, "S-014", "before")
    harbour.clock.now += timedelta(days=days)
    for text in ("after", "and again"):
        cards.note(harbour.service, KIM, "S-014", text)
    notes = [fact for fact in harbour.facts("S-014") if fact.event == "noted"]
    assert [fact.text for fact in notes] == ["before", "after", "and again"]  # type: ignore[attr-defined]
    assert audit(harbour.service).sound
    with harbour.service.store.reading() as conn:
        logged = list(conn.scalars(select(t.Entry.logged_at).order_by(t.Entry.logged_at)))
    assert len(set(logged)) == len(logged)


def test_back_and_forth_many_times(harbour: Harbour) -> None:
    for number in range(20):
        harbour.clock.now += timedelta(hours=(-1) ** number * number)
        cards.note(harbour.service, KIM, "S-014", str(number))
    notes = [fact.text for fact in harbour.facts("S-014") if fact.event == "noted"]  # type: ignore[attr-defined]
    assert notes == [str(number) for number in range(20)]
    assert audit(harbour.service).sound
