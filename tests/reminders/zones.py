"""Zones whose clocks change, and every change of theirs from 2020 to 2040.

The changes are found by asking the tz data of this machine for the offset hour by hour, not by
anything of the project.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

CHANGES = (
    "Africa/Cairo",
    "Africa/Casablanca",
    "America/Asuncion",
    "America/Havana",
    "America/Los_Angeles",
    "America/New_York",
    "America/Nuuk",
    "America/Santiago",
    "America/St_Johns",
    "Antarctica/Troll",
    "Asia/Beirut",
    "Asia/Gaza",
    "Asia/Jerusalem",
    "Asia/Tehran",
    "Atlantic/Azores",
    "Australia/Adelaide",
    "Australia/Lord_Howe",
    "Australia/Sydney",
    "Europe/Chisinau",
    "Europe/Dublin",
    "Europe/Helsinki",
    "Europe/Lisbon",
    "Europe/London",
    "Pacific/Auckland",
    "Pacific/Chatham",
    "Pacific/Easter",
    "Pacific/Norfolk",
)
FROM = datetime(2020, 1, 1, tzinfo=UTC)
UNTIL = datetime(2041, 1, 1, tzinfo=UTC)


@cache
def changes_of(zone: str) -> tuple[datetime, ...]:
    """When the offset of a zone changes, to the minute, in UTC."""
    tz = ZoneInfo(zone)
    found = []
    step = timedelta(hours=12)
    at, before = FROM, FROM.astimezone(tz).utcoffset()
    while at < UNTIL:
        then = at + step
        after = then.astimezone(tz).utcoffset()
        if after != before:
            found.append(_narrowed(at, then, tz))
        at, before = then, after
    assert found, f"the clocks of {zone} do not change: it does not belong here"
    return tuple(found)


def _narrowed(low: datetime, high: datetime, tz: ZoneInfo) -> datetime:
    """The first minute of the new offset."""
    old = low.astimezone(tz).utcoffset()
    while high - low > timedelta(minutes=1):
        middle = low + (high - low) // 2
        if middle.astimezone(tz).utcoffset() == old:
            low = middle
        else:
            high = middle
    return high.replace(second=0, microsecond=0)
