"""Which hours count: from call to wrap, and as long after it as the cart works on.

Where nobody called or wrapped it goes by the clock, from the production's start of day. Hours
count as they go by, so that a day with a change of clocks is no longer and no shorter for it.
All times are aware; those that come out are UTC.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from tracker.domain.calendar import day_by_the_clock
from tracker.domain.facts import Called, Wrapped, moment
from tracker.reminders.limits import Limits


@dataclass(frozen=True, slots=True)
class Span:
    """A shooting day of a unit. said: somebody logged its wrap, so that its end is known."""

    start: datetime
    end: datetime
    day: date
    said: bool


class Hours:
    """The hours of one unit in which people work, in order.

    spans: its shooting days. works: those with the time that the cart works on, as far as two of
    them do not run into each other: then they are one.
    """

    def __init__(self, spans: Iterable[Span], after_wrap: timedelta) -> None:
        self.spans = tuple(sorted(spans, key=lambda span: (span.start, span.end)))
        self.after_wrap = after_wrap
        self.works = _merged((span.start, span.end + after_wrap) for span in self.spans)
        self._starts = [start for start, _ in self.works]

    def at_work(self, at: datetime) -> bool:
        """Whether people work at a moment; at the end of the work they no longer do."""
        index = bisect_right(self._starts, at) - 1
        return index >= 0 and at < self.works[index][1]

    def counted(self, since: datetime, until: datetime) -> timedelta:
        """How much of the time between two moments counts; zero if it is none."""
        worked = (min(end, until) - max(start, since) for start, end in self.works)
        return sum((one for one in worked if one > timedelta(0)), timedelta(0))

    def after(self, since: datetime, amount: timedelta) -> datetime | None:
        """When so much of the counted time has gone by since a moment.

        None while it cannot be said: it hangs on a call that nobody has logged yet.
        """
        left = amount
        for start, end in self.works[max(0, bisect_right(self._starts, since) - 1) :]:
            begin = max(start, since)
            if end <= begin:
                continue
            if end - begin >= left:
                return begin + left
            left -= end - begin
        return None

    def copied_by(self, since: datetime, limits: Limits, after: timedelta) -> datetime | None:
        """By when a card that came out at a moment should have been copied, by the unit's habit.

        after: how much time the copying may take, in hours that count; in the night it has the
        night instead. None while it hangs on a call that nobody has logged yet.
        """
        if limits.habit == "night":
            return self._wrap_after(since) + limits.night_lasts
        if limits.habit == "lunch and wrap":
            since = self._break_after(since, limits.lunch_after)
        return self.after(since, after)

    def _wrap_after(self, at: datetime) -> datetime:
        return next((s.end for s in self.spans if s.start <= at <= s.end), at)

    def _break_after(self, at: datetime, lunch_after: timedelta) -> datetime:
        """The next lunch or wrap; after the wrap, or on no day at all, the moment itself."""
        for span in self.spans:
            if span.start <= at <= span.end:
                lunch = span.start + lunch_after
                return lunch if at <= lunch <= span.end else span.end
        return at


def hours_of(
    facts: Sequence[Called | Wrapped],
    busy: Iterable[datetime],
    around: tuple[datetime, datetime],
    clock: tuple[tzinfo, time],
    limits: Limits,
) -> Hours:
    """The hours of a unit, from its calls and wraps.

    busy: when something happened at its cameras: a day of which nobody said when it began or
    ended counts by the clock if something did. Of a unit that never called or wrapped every day
    counts so. around: the first and the last moment that matter. clock: the production's zone,
    and its start of day.
    """
    zone, day_starts = clock
    spans = _said(sorted(facts, key=moment), zone, day_starts, limits)
    if facts:
        said = Hours(spans, limits.after_wrap)
        beyond = (at for at in busy if not said.at_work(at))
        silent = {day_by_the_clock(at, zone, day_starts) for at in beyond}
    else:
        first, last = (day_by_the_clock(at, zone, day_starts) for at in around)
        silent = {first + timedelta(days=n) for n in range((last - first).days + 2)}
    silent -= {span.day for span in spans}
    by_clock = [_by_the_clock(day, zone, day_starts, limits) for day in sorted(silent)]
    return Hours([*spans, *by_clock], limits.after_wrap)


def together(hours: Iterable[Hours]) -> Hours:
    """The hours in which any of some units works."""
    known = list(hours)
    after_wrap = max((one.after_wrap for one in known), default=timedelta(0))
    return Hours((span for one in known for span in one.spans), after_wrap)


def _said(
    facts: Sequence[Called | Wrapped], zone: tzinfo, day_starts: time, limits: Limits
) -> list[Span]:
    """The days of which somebody said when they began or ended."""
    spans: list[Span] = []
    for index, fact in enumerate(facts):
        at = fact.occurred_at.astimezone(UTC)
        if isinstance(fact, Called):
            following = facts[index + 1] if index + 1 < len(facts) else None
            wrapped = isinstance(following, Wrapped)
            end = at + limits.longest_day
            if following is not None:
                then = following.occurred_at.astimezone(UTC)
                end = then if wrapped else min(end, then)
            day = day_by_the_clock(at, zone, day_starts)
            spans.append(Span(at, end, day, said=wrapped))
        elif index == 0 or isinstance(facts[index - 1], Wrapped):
            spans.append(_wrap_alone(at, spans, zone, day_starts))
    return spans


def _wrap_alone(at: datetime, before: Sequence[Span], zone: tzinfo, day_starts: time) -> Span:
    """A wrap without a call: the day began by the clock. Said twice, the day goes on."""
    day = day_by_the_clock(at, zone, day_starts)
    start = _on_the_wall(day, day_starts, zone)
    if before and before[-1].end > start:
        start, day = before[-1].end, before[-1].day
    return Span(min(start, at), at, day, said=True)


def _by_the_clock(day: date, zone: tzinfo, day_starts: time, limits: Limits) -> Span:
    start = _on_the_wall(day, day_starts, zone)
    return Span(start, start + limits.clock_day, day, said=False)


def _on_the_wall(day: date, clock: time, zone: tzinfo) -> datetime:
    return datetime.combine(day, clock, zone).astimezone(UTC)


def _merged(
    intervals: Iterable[tuple[datetime, datetime]],
) -> tuple[tuple[datetime, datetime], ...]:
    """Intervals in order, those that touch made one."""
    merged: list[tuple[datetime, datetime]] = []
    for start, end in sorted(intervals):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return tuple(merged)
