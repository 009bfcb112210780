"""Which hours count: calls, wraps, the clock where nobody said, and how a unit copies."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.reminders.zones import CHANGES, changes_of
from tracker.domain.facts import Called, Wrapped
from tracker.reminders.hours import Hours, Span, hours_of, together
from tracker.reminders.limits import Limits

HELSINKI = ZoneInfo("Europe/Helsinki")
FIVE = time(5)
HOUR = timedelta(hours=1)
LIMITS = Limits()


def at(text: str, zone: ZoneInfo = HELSINKI) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


def said(*texts: str) -> list[Called | Wrapped]:
    """Calls and wraps, as in "called 2026-03-02T08:00"."""
    found: list[Called | Wrapped] = []
    for text in texts:
        kind, when = text.split()
        fact = {"called": Called, "wrapped": Wrapped}[kind]
        then = at(when)
        found.append(fact(id=text, occurred_at=then, logged_at=then, origin="x", unit="main"))
    return found


def hours(*texts: str, until: str, busy: tuple[str, ...] = (), limits: Limits = LIMITS) -> Hours:
    moments = [at(one) for one in busy]
    facts = said(*texts)
    first = min([fact.occurred_at for fact in facts] + moments, default=at(until))
    return hours_of(facts, moments, (first, at(until)), (HELSINKI, FIVE), limits)


DAY = ("called 2026-03-02T08:00", "wrapped 2026-03-02T18:00")


def test_hours_run_from_the_call_to_the_wrap_and_as_long_as_the_cart_works_on() -> None:
    found = hours(*DAY, until="2026-03-03T12:00")
    assert not found.at_work(at("2026-03-02T07:59"))
    assert found.at_work(at("2026-03-02T08:00"))
    assert found.at_work(at("2026-03-02T20:59"))
    assert not found.at_work(at("2026-03-02T21:00"))


def test_a_night_does_not_count_and_the_next_call_goes_on_where_the_evening_stopped() -> None:
    next_day = ("called 2026-03-03T09:00", "wrapped 2026-03-03T19:00")
    found = hours(*DAY, *next_day, until="2026-03-03T20:00")
    assert found.after(at("2026-03-02T20:30"), 2 * HOUR) == at("2026-03-03T10:30")
    assert found.counted(at("2026-03-02T20:30"), at("2026-03-03T10:30")) == 2 * HOUR


def test_it_cannot_be_said_while_it_hangs_on_a_call_that_is_yet_to_come() -> None:
    found = hours(*DAY, until="2026-03-03T12:00")
    assert found.after(at("2026-03-02T20:30"), 2 * HOUR) is None


def test_a_day_that_nobody_wrapped_does_not_run_for_ever() -> None:
    found = hours("called 2026-03-02T08:00", until="2026-03-09T12:00")
    assert found.spans[0].end == at("2026-03-03T00:00")
    assert not found.at_work(at("2026-03-04T10:00"))


def test_a_new_call_ends_a_day_that_nobody_wrapped() -> None:
    found = hours("called 2026-03-02T08:00", "called 2026-03-02T20:00", until="2026-03-03T12:00")
    assert [span.end for span in found.spans] == [at("2026-03-02T20:00"), at("2026-03-03T12:00")]


def test_a_call_two_days_later_does_not_make_the_day_longer() -> None:
    found = hours("called 2026-03-02T08:00", "called 2026-03-04T08:00", until="2026-03-04T12:00")
    assert found.spans[0].end == at("2026-03-03T00:00")


def test_of_a_day_that_somebody_called_the_hours_before_the_call_do_not_count() -> None:
    found = hours(*DAY, until="2026-03-02T12:00", busy=("2026-03-02T06:30",))
    assert not found.at_work(at("2026-03-02T07:00"))


def test_a_wrap_that_nobody_called_for_ends_a_day_that_began_by_the_clock() -> None:
    found = hours("wrapped 2026-03-02T18:00", until="2026-03-03T12:00")
    assert found.spans[0].start == at("2026-03-02T05:00")
    assert found.spans[0].end == at("2026-03-02T18:00")


def test_wrapped_again_later_the_day_was_longer() -> None:
    found = hours(*DAY, "wrapped 2026-03-02T20:00", until="2026-03-03T12:00")
    assert found.works == ((at("2026-03-02T08:00"), at("2026-03-02T23:00")),)


def test_where_nobody_ever_called_every_day_counts_by_the_clock() -> None:
    found = hours(until="2026-03-03T12:00", busy=("2026-03-01T10:00",))
    assert found.at_work(at("2026-03-02T05:00"))
    assert not found.at_work(at("2026-03-02T23:30"))
    assert found.at_work(at("2026-03-03T12:00"))


def test_a_day_off_does_not_count_and_one_on_which_something_happened_does() -> None:
    """Of a unit that calls and wraps: nobody is nagged on Sunday, unless a camera was used."""
    assert not hours(*DAY, until="2026-03-08T12:00").at_work(at("2026-03-08T12:00"))
    used = hours(*DAY, until="2026-03-08T12:00", busy=("2026-03-08T10:00",))
    assert used.at_work(at("2026-03-08T12:00"))


def test_a_call_that_nobody_wrapped_does_not_swallow_the_days_after_it() -> None:
    """The unit stopped logging its days: what happens at its cameras still counts."""
    found = hours("called 2026-03-02T08:00", until="2026-03-05T12:00", busy=("2026-03-05T10:00",))
    assert found.at_work(at("2026-03-05T12:00"))


@pytest.mark.parametrize(
    ("habit", "came_out", "by"),
    [
        ("rolling", "2026-03-02T10:00", "2026-03-02T12:00"),
        ("rolling", "2026-03-02T18:00", "2026-03-02T20:00"),
        ("lunch and wrap", "2026-03-02T10:00", "2026-03-02T16:00"),
        ("lunch and wrap", "2026-03-02T14:30", "2026-03-02T20:00"),
        ("lunch and wrap", "2026-03-02T18:30", "2026-03-02T20:30"),
        ("night", "2026-03-02T10:00", "2026-03-03T03:00"),
        ("night", "2026-03-02T18:00", "2026-03-03T03:00"),
        ("night", "2026-03-02T19:00", "2026-03-03T04:00"),
    ],
)
def test_by_when_a_card_is_copied_goes_by_the_habit_of_the_unit(
    habit: str, came_out: str, by: str
) -> None:
    """Called at 8, lunch 6 hours later, wrapped at 18; copying may take 2 hours."""
    limits = Limits(habit=habit)  # type: ignore[arg-type]
    found = hours(*DAY, until="2026-03-03T12:00", limits=limits)
    assert found.copied_by(at(came_out), limits, 2 * HOUR) == at(by)


def test_two_units_together_work_while_either_does() -> None:
    late = hours("called 2026-03-02T16:00", "wrapped 2026-03-02T23:00", until="2026-03-03T12:00")
    both = together([hours(*DAY, until="2026-03-03T12:00"), late])
    assert both.works == ((at("2026-03-02T08:00"), at("2026-03-03T02:00")),)


# Properties: hours that go by, whatever the clocks on the wall do

QUARTER = timedelta(minutes=15)
BEGIN = at("2026-03-27T00:00")
"""Clocks go forward in Helsinki on 29 March."""
quarters = st.integers(0, 4 * 24 * 4)


@settings(deadline=None)
@given(st.lists(st.tuples(quarters, st.integers(1, 60)), max_size=6), quarters, st.integers(1, 100))
def test_after_is_when_so_much_has_been_counted_and_no_earlier(
    days: list[tuple[int, int]], since: int, amount: int
) -> None:
    """Counted here one quarter of an hour after the other."""
    spans = [
        Span(BEGIN + call * QUARTER, BEGIN + (call + length) * QUARTER, BEGIN.date(), said=True)
        for call, length in days
    ]
    found = Hours(spans, HOUR)
    came = found.after(BEGIN + since * QUARTER, amount * QUARTER)
    worked = {n for call, length in days for n in range(call, call + length + 4)}
    ahead = sorted(n for n in worked if n >= since)
    expected = None if len(ahead) < amount else BEGIN + (ahead[amount - 1] + 1) * QUARTER
    assert came == expected
    assert all(found.at_work(BEGIN + n * QUARTER) == (n in worked) for n in range(600))


@pytest.mark.parametrize("zone", sorted(CHANGES))
def test_a_day_by_the_clock_starts_when_the_wall_says_so_and_lasts_as_long_as_ever(
    zone: str,
) -> None:
    """Over every change of clocks 2020-2040: no day is lost, none doubled, none is longer."""
    tz = ZoneInfo(zone)
    for change in changes_of(zone):
        around = (change - 48 * HOUR, change + 48 * HOUR)
        found = hours_of([], (), around, (tz, FIVE), LIMITS)
        days = [span.day for span in found.spans]
        assert all(later - earlier == timedelta(days=1) for earlier, later in pairwise(days))
        for span in found.spans:
            assert span.start.astimezone(tz).time() == FIVE
            assert span.start.astimezone(tz).date() == span.day
            assert span.end - span.start == LIMITS.clock_day
