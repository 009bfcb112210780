"""Where the cards were over the days, as the production office looks at it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from tracker.planning.past import Counted, Days, Held, Stretch, What, count_days, stretches
from tracker.services.production import about
from tracker.services.service import Service
from tracker.store import wear_rows
from tracker.store.types import from_microseconds, to_microseconds

BY_THE_MINUTE = 7
"""Up to so many days each stretch is drawn as it was; beyond, day by day."""


@dataclass(frozen=True, slots=True)
class Rotation:
    """The cards between two days, the last one included, by the clock of the production.

    rolls: as they were read; see `stretches_of`.
    """

    first: date
    last: date
    zone: ZoneInfo
    since: datetime
    until: datetime
    counted: Counted
    rolls: list[Any]

    @property
    def days(self) -> Days:
        """What each day of each card is called after."""
        return self.counted.days

    @property
    def exact(self) -> bool:
        """Whether it is short enough to be drawn by the minute."""
        return (self.last - self.first).days < BY_THE_MINUTE

    def stretches_of(self) -> list[Stretch]:
        """Each stretch as it was."""
        held = (
            Held(row.label, row.name, row.camera, _time(row.opened), _time(row.closed),
                 _time(wear_rows.wiped_at(row.wiped)), bool(row.endangered))
            for row in self.rolls
        )  # fmt: skip
        return list(stretches(held, self.since, self.until))

    def counts(self) -> dict[str, dict[What, int]]:
        """By card, on how many days each thing was true of it."""
        return {card: dict(Counter(mine.values())) for card, mine in sorted(self.days.items())}


def _time(microseconds: int | None) -> datetime | None:
    return None if microseconds is None else from_microseconds(microseconds)


def rotation(service: Service, last: date | None, days: int | None) -> Rotation:
    """Where the cards were. last: today if None; days: how many, None for all that are known."""
    zone, now = about(service).zone, service.clock()
    last = min(last or now.astimezone(zone).date(), now.astimezone(zone).date())
    with service.store.reading() as conn:
        begun = wear_rows.first_opened(conn)
        known = last if begun is None else begun.astimezone(zone).date()
        first = min(known if days is None else last - timedelta(days=days - 1), last)
        since = _begins(first, zone)
        until = min(_begins(last + timedelta(days=1), zone), now)
        rolls = wear_rows.rolls_between(conn, since, until)
    named = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    starts = [to_microseconds(_begins(day, zone)) for day in named]
    quick = (
        (row.label, row.opened, row.closed, wear_rows.wiped_at(row.wiped), bool(row.endangered))
        for row in rolls
    )
    counted = count_days(quick, [*starts, to_microseconds(until)], named)
    return Rotation(first, last, zone, since, until, counted, rolls)


def _begins(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)


def reading(seen: Rotation) -> str:
    """What the rotation says."""
    if not seen.days:
        return "No card was in a camera, or held anything that is known, in this time."
    used, risky = len(seen.counted.used), sorted(seen.counted.endangered)
    says = f"{used} {'card was' if used == 1 else 'cards were'} in a camera in this time."
    if not risky:
        return f"{says} None held footage that is not covered."
    shown = ", ".join(risky[:5]) + (f" and {len(risky) - 5} more" if len(risky) > 5 else "")
    return f"{says} Held footage that is not covered, or was formatted before it was: {shown}."
