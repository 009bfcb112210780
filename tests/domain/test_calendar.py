"""Days as a crew counts them."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from tracker.domain.calendar import ShootingDays, day_by_the_clock, roll_name
from tracker.domain.facts import Called, Wrapped

LISBON = ZoneInfo("Europe/Lisbon")
NEW_YORK = ZoneInfo("America/New_York")
FIVE = time(5)


def at(text: str, zone: ZoneInfo = LISBON) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


def called(text: str) -> Called:
    when = at(text)
    return Called(id=f"call {text}", occurred_at=when, logged_at=when, origin="here", unit="main")


def wrapped(text: str) -> Wrapped:
    when = at(text)
    return Wrapped(id=f"wrap {text}", occurred_at=when, logged_at=when, origin="here", unit="main")


@pytest.mark.parametrize(
    ("when", "day"),
    [
        ("2026-03-03T04:59", date(2026, 3, 2)),
        ("2026-03-03T05:00", date(2026, 3, 3)),
        ("2026-03-03T23:59", date(2026, 3, 3)),
    ],
)
def test_by_the_clock_a_day_starts_when_the_production_says(when: str, day: date) -> None:
    assert day_by_the_clock(at(when), LISBON, FIVE) == day


def test_a_day_that_starts_at_midnight_is_the_date() -> None:
    assert day_by_the_clock(at("2026-03-03T00:00"), LISBON, time(0)) == date(2026, 3, 3)


def test_the_date_is_that_of_the_production_and_not_of_the_service() -> None:
    """03:00 UTC on the fourth is 22:00 in New York on the third."""
    when = datetime(2026, 3, 4, 3, 0, tzinfo=UTC)
    assert day_by_the_clock(when, NEW_YORK, FIVE) == date(2026, 3, 3)


@pytest.mark.parametrize(
    ("when", "day"),
    [
        ("2026-03-08T04:59", date(2026, 3, 7)),
        ("2026-03-08T05:00", date(2026, 3, 8)),
        ("2026-11-01T04:59", date(2026, 10, 31)),
        ("2026-11-01T05:00", date(2026, 11, 1)),
    ],
)
def test_on_the_nights_when_clocks_change_the_day_starts_by_the_clock_on_the_wall(
    when: str, day: date
) -> None:
    """New York, 2026: clocks go forward on 8 March and back on 1 November."""
    assert day_by_the_clock(at(when, NEW_YORK), NEW_YORK, FIVE) == day


def test_a_shooting_day_runs_from_its_call_to_its_wrap() -> None:
    """A night shoot: called in the evening of the third, wrapped after the day had changed."""
    days = ShootingDays([called("2026-03-03T18:00"), wrapped("2026-03-04T07:30")], LISBON, FIVE)
    assert days.day_of(at("2026-03-03T18:00")) == date(2026, 3, 3)
    assert days.day_of(at("2026-03-04T06:00")) == date(2026, 3, 3)
    assert days.day_of(at("2026-03-04T07:30")) == date(2026, 3, 3)


def test_where_nobody_said_it_goes_by_the_clock() -> None:
    days = ShootingDays([called("2026-03-03T18:00"), wrapped("2026-03-04T07:30")], LISBON, FIVE)
    assert days.day_of(at("2026-03-03T17:59")) == date(2026, 3, 3)
    assert days.day_of(at("2026-03-04T07:31")) == date(2026, 3, 4)
    assert ShootingDays([], LISBON, FIVE).day_of(at("2026-03-04T04:00")) == date(2026, 3, 3)


def test_a_new_call_ends_a_day_that_nobody_wrapped() -> None:
    days = ShootingDays([called("2026-03-03T07:00"), called("2026-03-04T07:00")], LISBON, FIVE)
    assert days.day_of(at("2026-03-04T06:00")) == date(2026, 3, 3)
    assert days.day_of(at("2026-03-04T08:00")) == date(2026, 3, 4)


def test_a_roll_is_named_by_card_date_and_time_in_the_zone_of_the_production() -> None:
    when = datetime(2026, 3, 4, 3, 5, tzinfo=UTC)
    assert roll_name("S-014", when, NEW_YORK) == "S-014/2026-03-03/22:05"
