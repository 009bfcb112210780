"""The list of the morning: one for each local date, in every zone, over every change of clocks."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.reminders.zones import CHANGES, changes_of
from tracker.reminders.digests import Digest, next_digest

LISBON = ZoneInfo("Europe/Lisbon")
SEVEN = time(7)
HOURS = (time(0, 15), time(1, 30), time(2, 30), SEVEN, time(23, 45))


def at(text: str, zone: ZoneInfo = LISBON) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


def run(start: datetime, end: datetime, clock: time, zone: ZoneInfo, every: int) -> Counter[date]:
    """The lists that go while a service looks every so many minutes, by their dates."""
    went: Counter[date] = Counter()
    now = start
    while now <= end:
        digest = next_digest(now, clock, zone, went.keys(), start)
        if digest is not None:
            went[digest.day] += 1
        now += timedelta(minutes=every)
    return went


def test_one_goes_when_its_time_has_come_and_no_second_that_day() -> None:
    since = at("2026-05-20T12:00")
    assert next_digest(at("2026-05-21T06:59"), SEVEN, LISBON, (), since) is None
    assert next_digest(at("2026-05-21T07:00"), SEVEN, LISBON, (), since) == Digest(
        date(2026, 5, 21)
    )
    assert next_digest(at("2026-05-21T23:00"), SEVEN, LISBON, {date(2026, 5, 21)}, since) is None


def test_after_a_pause_only_the_newest_goes_and_says_how_many_it_stands_for() -> None:
    decided = {date(2026, 5, 18)}
    digest = next_digest(at("2026-05-22T03:00"), SEVEN, LISBON, decided, at("2026-05-01T12:00"))
    assert digest == Digest(date(2026, 5, 21), missed=2)


def test_whoever_begins_after_seven_gets_the_first_on_the_next_day() -> None:
    since = at("2026-05-21T08:00")
    assert next_digest(at("2026-05-21T08:00"), SEVEN, LISBON, (), since) is None
    assert next_digest(at("2026-05-22T07:00"), SEVEN, LISBON, (), since) is not None


def test_a_time_that_comes_twice_in_the_autumn_night_brings_one() -> None:
    """Lisbon, 25 October 2026: 01:30 comes at 00:30 UTC and again at 01:30 UTC."""
    clock = time(1, 30)
    went = run(at("2026-10-24T12:00"), at("2026-10-26T12:00"), clock, LISBON, every=5)
    assert went == {date(2026, 10, 25): 1, date(2026, 10, 26): 1}


def test_a_time_that_the_spring_night_skips_brings_one_all_the_same() -> None:
    """Lisbon, 29 March 2026: after 00:59 comes 02:00."""
    went = run(at("2026-03-28T12:00"), at("2026-03-30T12:00"), time(1, 30), LISBON, every=5)
    assert went == {date(2026, 3, 29): 1, date(2026, 3, 30): 1}


def test_a_list_that_stood_for_the_day_before_is_not_followed_by_that_of_the_day_before() -> None:
    """The service begins again at 01:30, and the hour comes a second time."""
    clock, since = time(1, 30), at("2026-10-20T12:00")
    decided = {date(2026, 10, 23)}
    first = next_digest(datetime(2026, 10, 25, 0, 31, tzinfo=UTC), clock, LISBON, decided, since)
    assert first == Digest(date(2026, 10, 25), missed=1)
    decided.add(first.day)
    again = datetime(2026, 10, 25, 1, 10, tzinfo=UTC)
    assert next_digest(again, clock, LISBON, decided, since) is None


def test_a_clock_that_jumped_a_year_ahead_and_back_does_not_silence_the_lists() -> None:
    decided = {date(2026, 5, 21), date(2027, 5, 21)}
    digest = next_digest(at("2026-05-22T07:00"), SEVEN, LISBON, decided, at("2026-05-01T12:00"))
    assert digest == Digest(date(2026, 5, 22))


@pytest.mark.parametrize("zone", CHANGES)
@pytest.mark.parametrize("clock", HOURS, ids=str)
def test_each_local_date_has_exactly_one_over_every_change_of_clocks(
    zone: str, clock: time
) -> None:
    """Every change 2020-2040 of each zone, 30 hours before and after it, asked every half hour."""
    tz = ZoneInfo(zone)
    for change in changes_of(zone):
        start, end = change - timedelta(hours=30), change + timedelta(hours=30)
        went = run(start, end, clock, tz, every=30)
        assert went == dict.fromkeys(_dates(start, end, clock, tz), 1), change


def _dates(start: datetime, end: datetime, clock: time, tz: ZoneInfo) -> list[date]:
    """The dates whose time the clock on the wall passes between two moments.

    Told from what the wall shows at both ends, and nothing between them.
    """
    shown = [moment.astimezone(tz).replace(tzinfo=None) for moment in (start, end)]
    days = (shown[0].date() + timedelta(days=n) for n in range(5))
    return [day for day in days if shown[0] < datetime.combine(day, clock) <= shown[1]]


@given(
    st.lists(st.integers(1, 4_000), min_size=1, max_size=40),
    st.sampled_from(CHANGES),
    st.sampled_from(HOURS),
)
def test_however_rarely_the_service_looks_no_date_has_two_and_none_is_lost_in_silence(
    waits: list[int], zone: str, clock: time
) -> None:
    tz = ZoneInfo(zone)
    start = changes_of(zone)[len(waits) % len(changes_of(zone))] - timedelta(days=3)
    went: list[Digest] = []
    now = start
    for wait in waits:
        now += timedelta(minutes=wait)
        digest = next_digest(now, clock, tz, {one.day for one in went}, start)
        if digest is not None:
            went.append(digest)
    days = [one.day for one in went]
    assert days == sorted(set(days))
    if went:
        wall = start.astimezone(tz)
        first = wall.date() if wall.time() >= clock else wall.date() - timedelta(days=1)
        assert sum(1 + one.missed for one in went) == (days[-1] - first).days
