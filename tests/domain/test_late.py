"""When something really happened, by a clock that may be wrong."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from tracker.domain.late import AHEAD, BEFORE_LAST_EXCHANGE, EARLIEST, Corrected, corrected

NOW = datetime(2026, 3, 2, 18, 20, tzinfo=UTC)
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)
SECONDS = st.integers(0, 229 * 365 * 86_400)
TIMES = SECONDS.map(lambda seconds: EARLIEST + timedelta(seconds=seconds))
EVER = st.none() | TIMES


def test_a_right_clock_is_left_alone() -> None:
    happened = NOW - 255 * MINUTE
    assert corrected(happened, NOW, NOW, NOW - DAY) == Corrected(happened, None, False)


def test_a_clock_that_is_behind_is_put_on_by_as_much() -> None:
    behind = 40 * MINUTE
    said = NOW - 60 * MINUTE - behind
    assert corrected(said, NOW - behind, NOW, None) == Corrected(NOW - 60 * MINUTE, said, False)


def test_a_clock_that_is_ahead_is_put_back_and_not_doubted() -> None:
    said = NOW + 3 * DAY - 10 * MINUTE
    assert corrected(said, NOW + 3 * DAY, NOW, NOW - DAY) == Corrected(
        NOW - 10 * MINUTE, said, False
    )


def test_five_minutes_ahead_may_be_claimed_and_no_more() -> None:
    assert corrected(NOW + AHEAD, None, NOW, None) == Corrected(NOW + AHEAD, None, False)
    said = NOW + AHEAD + MINUTE
    assert corrected(said, None, NOW, None) == Corrected(NOW + AHEAD, said, True)


def test_seven_days_before_the_last_exchange_may_be_claimed_and_no_more() -> None:
    last = NOW - 2 * DAY
    floor = last - BEFORE_LAST_EXCHANGE
    assert corrected(floor, None, NOW, last) == Corrected(floor, None, False)
    assert corrected(floor - MINUTE, None, NOW, last) == Corrected(floor, floor - MINUTE, True)


def test_a_first_exchange_may_tell_of_any_time_that_is_over() -> None:
    said = NOW - 300 * DAY
    assert corrected(said, None, NOW, None) == Corrected(said, None, False)


def test_an_offset_never_leads_before_the_first_time_that_a_journal_holds() -> None:
    said = datetime(1971, 1, 1, tzinfo=UTC)
    sent = datetime(2150, 1, 1, tzinfo=UTC)
    assert corrected(said, sent, NOW, None) == Corrected(EARLIEST, said, True)


def test_an_offset_may_lead_back_to_what_was_said() -> None:
    """Moved twice, to where it was: then there is nothing else to keep, but it was moved."""
    said = NOW + AHEAD
    assert corrected(said, NOW - DAY, NOW, None) == Corrected(said, None, True)


@given(said=TIMES, sent=EVER, last=st.none() | st.integers(0, 1000))
def test_what_is_believed_is_within_bounds(
    said: datetime, sent: datetime | None, last: int | None
) -> None:
    heard = None if last is None else NOW - last * DAY
    got = corrected(said, sent, NOW, heard)
    floor = EARLIEST if heard is None else heard - BEFORE_LAST_EXCHANGE
    assert floor <= got.occurred_at <= NOW + AHEAD
    assert (got.raw is None) == (got.occurred_at == said)
    assert got.raw in (None, said)
    offset = timedelta(0) if sent is None else NOW - sent
    assert got.clamped == (got.occurred_at != said + offset)


@given(first=TIMES, second=TIMES, sent=EVER)
def test_the_order_in_which_a_device_says_things_is_kept(
    first: datetime, second: datetime, sent: datetime | None
) -> None:
    earlier, later = sorted((first, second))
    one, two = corrected(earlier, sent, NOW, None), corrected(later, sent, NOW, None)
    assert one.occurred_at <= two.occurred_at
