"""Days as a crew counts them, and the names that carry a date.

A unit's shooting day runs from its call to its wrap. Where nobody said, it goes by the wall clock
of the production: the local date of a time less the production's start of day.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta, tzinfo

from tracker.domain.facts import Called, Wrapped, moment


def roll_name(label: str, at: datetime, zone: tzinfo) -> str:
    """The name of a roll that nobody named: LABEL/date/hh:mm, in the production's zone."""
    return f"{label}/{at.astimezone(zone):%Y-%m-%d/%H:%M}"


def day_by_the_clock(at: datetime, zone: tzinfo, day_starts: time) -> date:
    """The local date of a time less the start of the day, both by the wall clock.

    Wall-clock arithmetic on purpose: on the night in which clocks change, a day that starts at
    05:00 still starts when the clock on the wall says 05:00.
    """
    wall = at.astimezone(zone).replace(tzinfo=None)
    since_midnight = timedelta(
        hours=day_starts.hour, minutes=day_starts.minute, seconds=day_starts.second
    )
    return (wall - since_midnight).date()


class ShootingDays:
    """The shooting days of one unit, from its calls and wraps.

    A day is named by the clock at its call. A time between a call and the wrap after it belongs
    to that call, however late; any other goes by the clock.
    """

    def __init__(self, facts: Iterable[Called | Wrapped], zone: tzinfo, day_starts: time) -> None:
        self._zone = zone
        self._day_starts = day_starts
        ordered = sorted(facts, key=moment)
        self._times = [fact.occurred_at for fact in ordered]
        self._facts = ordered

    def day_of(self, at: datetime) -> date:
        """The shooting day to which a time belongs."""
        index = bisect_right(self._times, at) - 1
        if index >= 0 and isinstance(self._facts[index], Called):
            at = self._facts[index].occurred_at
        elif index >= 0 and self._times[index] == at and index > 0:
            # The moment of the wrap itself is still of the day that it ends.
            before = self._facts[index - 1]
            at = before.occurred_at if isinstance(before, Called) else at
        return day_by_the_clock(at, self._zone, self._day_starts)
