"""Where the cards were over the days, as the production office looks at it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from tracker.planning.past import WORST, Days, Held, Stretch, What, by_day, stretches
from tracker.services.production import about
from tracker.services.service import Service
from tracker.store import wear_rows

BY_THE_MINUTE = 7
"""Up to so many days each stretch is drawn as it was; beyond, day by day."""


@dataclass(frozen=True, slots=True)
class Rotation:
    """The cards between two days, the last one included, by the clock of the production."""

    first: date
    last: date
    zone: ZoneInfo
    found: list[Stretch]
    days: Days

    @property
    def exact(self) -> bool:
        """Whether it is short enough to be drawn by the minute."""
        return (self.last - self.first).days < BY_THE_MINUTE

    def counts(self) -> dict[str, dict[What, int]]:
        """By card, on how many days each thing was true of it."""
        return {card: dict(Counter(mine.values())) for card, mine in sorted(self.days.items())}


def rotation(service: Service, last: date | None, days: int | None) -> Rotation:
    """Where the cards were. last: today if None; days: how many, None for all that are known."""
    zone, now = about(service).zone, service.clock()
    last = min(last or now.astimezone(zone).date(), now.astimezone(zone).date())
    until = min(_begins(last + timedelta(days=1), zone), now)
    with service.store.reading() as conn:
        begun = wear_rows.first_opened(conn)
        known = last if begun is None else begun.astimezone(zone).date()
        first = known if days is None else last - timedelta(days=days - 1)
        first = min(first, last)
        since = _begins(first, zone)
        held = [
            Held(
                row.label,
                row.name,
                row.camera,
                row.opened_at,
                row.closed_at if row.closed else None,
                wear_rows.wiped_at(row.wiped),
                row.owes and not (row.covered if row.wiped is None else row.covered_when_wiped),
            )
            for row in wear_rows.rolls_between(conn, since, until)
        ]
    found = list(stretches(held, since, until))
    return Rotation(first, last, zone, found, by_day(found, zone))


def _begins(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone)


def reading(seen: Rotation) -> str:
    """What the rotation says."""
    if not seen.days:
        return "No card was in a camera, or held anything that is known, in this time."
    used = len({one.card for one in seen.found if one.what == "in a camera"})
    risky = sorted({one.card for one in seen.found if one.what == WORST[0]})
    says = f"{used} {'card was' if used == 1 else 'cards were'} in a camera in this time."
    if not risky:
        return f"{says} None held footage that is not covered."
    shown = ", ".join(risky[:5]) + (f" and {len(risky) - 5} more" if len(risky) > 5 else "")
    return f"{says} Held footage that is not covered, or was formatted before it was: {shown}."
