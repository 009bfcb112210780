"""What a story's people are reminded of at a time of its day."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta, tzinfo
from typing import Any

from tests.stories import FIRST_DAY, Story
from tests.stories import production as begun
from tracker.domain import facts as f
from tracker.reminders.limits import Chosen, Limits, Own
from tracker.reminders.rules import BY_NAME, RULES, Condition, due
from tracker.reminders.seen import Seen, see

EVERYTHING = {rule.name: Own(on=True) for rule in RULES}


def chosen(unit: str | None = None, **limits: Any) -> Chosen:
    """What a production has set: every rule on, and these limits, of one unit or of all."""
    given = Limits(**{"rules": EVERYTHING, **limits})
    return Chosen(given) if unit is None else Chosen(Limits(rules=EVERYTHING), {unit: given})


def day(**more: Any) -> Story:
    """A production with cameras A and B of the main unit, called at 08:00."""
    told = begun(**more)
    for letters in ("A", "B"):
        told.tell(f.CameraSet, moves=False, letters=letters, unit="main")
    return called(told, "08:00")


def called(told: Story, at: str, unit: str = "main") -> Story:
    return told.tell(f.Called, at, unit=unit)


def wrapped(told: Story, at: str, unit: str = "main") -> Story:
    return told.tell(f.Wrapped, at, unit=unit)


def at(clock: str, day: int = 1, zone: tzinfo = UTC) -> datetime:
    """A time of a day of the story, counted from 1."""
    date = (FIRST_DAY + timedelta(days=day - 1)).date()
    return datetime.combine(date, time.fromisoformat(clock), zone).astimezone(UTC)


def seen(told: Story, now: datetime, given: Chosen | None = None) -> Seen:
    return see(told.production, now, given or chosen())


def spoken_of(
    told: Story, rule: str, now: datetime, given: Chosen | None = None
) -> list[Condition]:
    """What a rule speaks of, due or not."""
    return due(seen(told, now, given), BY_NAME[rule], now)


def reminded(told: Story, rule: str, now: datetime, given: Chosen | None = None) -> list[Condition]:
    """What a rule speaks of whose time has come."""
    return [one for one in spoken_of(told, rule, now, given) if one.holds(now)]


def about(found: list[Condition]) -> list[str]:
    return [one.about for one in found]
