"""What a production sets for its reminders, and each of its crew units for itself.

Every default here is common practice, no source, unless it says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time, timedelta
from types import MappingProxyType
from typing import Literal

Habit = Literal["rolling", "lunch and wrap", "night"]
"""When a unit's cards are copied: as they come, at lunch and after wrap, or in the night."""


@dataclass(frozen=True, slots=True)
class Own:
    """What is set of one rule; None is as the rule has it.

    after: time that must have gone by, in the hours that the rule counts. delay, repeat: by the
    clock.
    """

    on: bool | None = None
    after: timedelta | None = None
    delay: timedelta | None = None
    repeat: timedelta | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """What holds for a production, or for one crew unit.

    habit: when its cards are copied. lunch_after: from the call to the meal. after_wrap: how long
    the cart works on after wrap. night_lasts: from the wrap until what is copied in the night is
    done. longest_day: how long a day runs that nobody wrapped. clock_day: how long a day runs that
    nobody called either, from the production's start of day. morning_list: when the list of the
    morning goes, by the wall clock. off_site_copies: how many copies of a roll are to be off site,
    even where the backup rule asks for none. drive_full_percent: from where a drive counts as
    full. copy_bytes_per_s: what a copy should reach at least. copy_at_least: what every copy may
    take. damage_from: severity of damage from which it is to be settled. promise_ahead: how long
    before its end a promise is reminded of. promise_lasts: how long one holds that named no end.
    rules: what is set of single rules, by their names.
    """

    habit: Habit = "rolling"
    lunch_after: timedelta = timedelta(hours=6)
    after_wrap: timedelta = timedelta(hours=3)
    night_lasts: timedelta = timedelta(hours=9)
    longest_day: timedelta = timedelta(hours=16)
    clock_day: timedelta = timedelta(hours=15)
    morning_list: time = time(7)
    off_site_copies: int = 1
    drive_full_percent: int = 85
    copy_bytes_per_s: int = 100 * 10**6
    copy_at_least: timedelta = timedelta(minutes=15)
    damage_from: int = 2
    promise_ahead: timedelta = timedelta(hours=2)
    promise_lasts: timedelta = timedelta(hours=24)
    rules: Mapping[str, Own] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a production has set, and what its units have set otherwise (by unit)."""

    production: Limits = field(default_factory=Limits)
    units: Mapping[str, Limits] = field(default_factory=lambda: MappingProxyType({}))

    def of(self, unit: str | None) -> Limits:
        """What holds for a unit; for what belongs to none, what holds for the production."""
        return self.production if unit is None else self.units.get(unit, self.production)
