"""Where cards were, from the times at which rolls went in, came out and went."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from tracker.planning.past import WORST, Held, Run, Stretch, by_day, count_days, runs, stretches

HELSINKI = ZoneInfo("Europe/Helsinki")
SINCE = datetime(2026, 3, 1, tzinfo=UTC)
UNTIL = SINCE + timedelta(days=10)


def at(day: int, hour: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, tzinfo=UTC)


def roll(**said: Any) -> Held:
    usual: dict[str, Any] = {
        "card": "S-014", "roll": "A001", "camera": "A", "opened": at(2, 8), "closed": at(2, 10),
        "wiped": None, "endangered": False,
    }  # fmt: skip
    return Held(**{**usual, **said})


def found(*held: Held) -> list[tuple[str, datetime, datetime]]:
    return [(one.what, one.start, one.end) for one in stretches(held, SINCE, UNTIL)]


def test_a_roll_is_in_a_camera_then_on_its_card_then_gone() -> None:
    assert found(roll(wiped=at(4))) == [
        ("in a camera", at(2, 8), at(2, 10)),
        ("holds footage, covered", at(2, 10), at(4)),
    ]


def test_what_is_not_over_ends_with_the_window() -> None:
    assert found(roll(closed=None)) == [("in a camera", at(2, 8), UNTIL)]
    assert found(roll(endangered=True))[1] == ("holds footage, not covered", at(2, 10), UNTIL)


def test_a_roll_of_unknown_beginning_is_known_from_its_pull_on() -> None:
    assert found(roll(opened=None)) == [("holds footage, covered", at(2, 10), UNTIL)]
    assert found(roll(opened=None, closed=None)) == []


def test_a_day_is_called_after_the_worst_of_it_by_the_productions_clock() -> None:
    """22:30 UTC is the next day in Helsinki."""
    late = roll(opened=at(2, 8), closed=at(2, 22) + timedelta(minutes=30), wiped=at(3, 12))
    days = by_day(stretches([late], SINCE, UNTIL), HELSINKI)
    assert days == {"S-014": {date(2026, 3, 2): "in a camera", date(2026, 3, 3): "in a camera"}}
    mixed = [roll(wiped=at(2, 20)), roll(roll="A002", opened=at(2, 12), closed=at(2, 13),
                                         wiped=at(2, 14), endangered=True)]  # fmt: skip
    assert by_day(stretches(mixed, SINCE, UNTIL), HELSINKI)["S-014"] == {
        date(2026, 3, 2): "holds footage, not covered"
    }


STRETCHES = st.lists(
    st.builds(
        lambda card, start, length, what: Stretch(
            card, SINCE + timedelta(hours=start), SINCE + timedelta(hours=start + length), what, ""
        ),
        st.sampled_from(["S-014", "S-015"]),
        st.integers(0, 200),
        st.integers(1, 60),
        st.sampled_from(WORST),
    ),
    max_size=12,
)


@given(STRETCHES)
def test_runs_are_the_days_again(many: list[Stretch]) -> None:
    days = by_day(many, HELSINKI)
    again: dict[str, dict[date, str]] = {}
    before: dict[str, Run] = {}
    for one in runs(days):
        last = before.get(one.card)
        # Two runs that touch are of different kinds, else they were one.
        assert last is None or last.last < one.first
        if last and last.last + timedelta(days=1) == one.first:
            assert last.what != one.what
        before[one.card] = one
        for n in range((one.last - one.first).days + 1):
            again.setdefault(one.card, {})[one.first + timedelta(days=n)] = one.what
    assert again == days


MICRO = timedelta(microseconds=1)
TIMES = st.none() | st.integers(-4 * 24 * 60, 19 * 24 * 60).map(
    lambda minutes: SINCE + timedelta(minutes=minutes)
)
HELD = st.lists(
    st.builds(
        lambda card, times, endangered: roll(
            card=card, opened=times[0], closed=times[1], wiped=times[2], endangered=endangered
        ),
        st.sampled_from(["S-014", "S-015"]),
        st.tuples(TIMES, TIMES, TIMES),
        st.booleans(),
    ),
    max_size=8,
)


def micro(at: datetime | None) -> int | None:
    return None if at is None else (at - datetime(1970, 1, 1, tzinfo=UTC)) // MICRO


@given(HELD, st.integers(1, 40))
def test_the_quick_count_is_the_full_one(held: list[Held], length: int) -> None:
    """Over the night, too, in which the clocks change (29 March 2026 in Helsinki)."""
    days = [date(2026, 3, 1) + timedelta(days=n) for n in range(length + 1)]
    starts = [datetime.combine(day, time(), HELSINKI).astimezone(UTC) for day in days]
    quick = [
        (one.card, micro(one.opened), micro(one.closed), micro(one.wiped), one.endangered)
        for one in held
    ]
    counted = count_days(quick, [micro(at) or 0 for at in starts], days[:-1])
    full = list(stretches(held, starts[0], starts[-1]))
    assert counted.days == by_day(full, HELSINKI)
    assert counted.used == {one.card for one in full if one.what == "in a camera"}
    assert counted.endangered == {one.card for one in full if one.what == WORST[0]}
