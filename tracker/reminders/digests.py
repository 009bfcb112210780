"""The list of the morning: exactly one for each local date, however long the day is."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo


@dataclass(frozen=True, slots=True)
class Digest:
    """A list that goes out now: of which date, and how many dates before it had none."""

    day: date
    missed: int = 0


def day_of_list(now: datetime, at: time, zone: tzinfo) -> date:
    """The date of the newest list whose time has come, by the wall clock of a zone.

    A time that a change of clocks skips has come when the clock is past it.
    """
    wall = now.astimezone(zone)
    return wall.date() if wall.time() >= at else wall.date() - timedelta(days=1)


def next_digest(
    now: datetime, at: time, zone: tzinfo, decided: Collection[date], since: datetime
) -> Digest | None:
    """The list that goes out now; None if there is none.

    decided: the dates of the lists that went before: the date is the key, so that a time that
    comes twice in the autumn night brings one list. A date that a later list made up for is not
    made good when the clock goes back over it. since: from when somebody gets lists.
    """
    day = day_of_list(now, at, zone)
    first = day_of_list(since, at, zone)
    if day <= first or day in decided or day + timedelta(days=1) in decided:
        return None
    before = max((one for one in decided if one < day), default=first)
    return Digest(day, (day - before).days - 1)
