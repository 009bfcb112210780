"""What a production has set for its reminders: kept as JSON, and only as far as it differs.

Durations are seconds, in fields that end in _s; times of day are hh:mm.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import time, timedelta
from types import MappingProxyType
from typing import Any, TypeVar, get_args

from tracker.domain.errors import CardwrightError
from tracker.reminders.limits import Chosen, Habit, Limits, Own
from tracker.reminders.rules import BY_NAME

Said = dict[str, Any]
"""A JSON object."""

T = TypeVar("T")


class BadSetting(CardwrightError):
    """A setting that cannot be taken. where: its field."""

    def __init__(self, where: str, found: object, expected: str) -> None:
        self.where = where
        super().__init__(f"{where}: found {found!r}, expected {expected}.")


@dataclass(frozen=True, slots=True)
class QuietHours:
    """Hours by the wall clock in which people are left alone; over midnight if end < start.

    pierced: whether danger goes through all the same.
    """

    start: time
    end: time
    pierced: bool = True


@dataclass(frozen=True, slots=True)
class Settings:
    """All that a production has set.

    quiet: for everybody; None for no quiet hours. quiet_of: of single people, by id, in place of
    that. escalate_after: how long a danger may go unanswered before the next role hears of it;
    None: it does not go on. Half an hour is common practice, no source.
    """

    chosen: Chosen = field(default_factory=Chosen)
    quiet: QuietHours | None = None
    quiet_of: Mapping[str, QuietHours | None] = field(default_factory=lambda: MappingProxyType({}))
    escalate_after: timedelta | None = timedelta(minutes=30)

    def quiet_for(self, person: str) -> QuietHours | None:
        """The quiet hours of a person; None if there are none."""
        return self.quiet_of.get(person, self.quiet)


DEFAULT = Settings()


def to_json(settings: Settings) -> Said:
    """What differs from what stands where nobody set anything."""
    production = settings.chosen.production
    said: Said = {
        "production": _limits_said(production, Limits()),
        "units": {
            unit: _limits_said(own, production) for unit, own in settings.chosen.units.items()
        },
    }
    if settings.quiet is not None:
        said["quiet"] = _quiet_said(settings.quiet)
    if settings.quiet_of:
        said["quiet_of"] = {
            person: None if hours is None else _quiet_said(hours)
            for person, hours in settings.quiet_of.items()
        }
    if settings.escalate_after != DEFAULT.escalate_after:
        after = settings.escalate_after
        said["escalate_after_s"] = None if after is None else after.total_seconds()
    return said


def from_json(said: Mapping[str, Any]) -> Settings:
    """The settings that were said. Errors: BadSetting."""
    known = {"production", "units", "quiet", "quiet_of", "escalate_after_s"}
    for word in said.keys() - known:
        raise BadSetting(word, said[word], f"one of {', '.join(sorted(known))}")
    production = _limits(said.get("production", {}), Limits(), "production")
    units = {
        unit: _limits(own, production, f"units.{unit}")
        for unit, own in said.get("units", {}).items()
    }
    quiet_of = {
        person: None if hours is None else _quiet(hours, f"quiet_of.{person}")
        for person, hours in said.get("quiet_of", {}).items()
    }
    quiet = said.get("quiet")
    after: timedelta | None = DEFAULT.escalate_after
    if "escalate_after_s" in said:
        after = _maybe(_duration, said["escalate_after_s"], "escalate_after_s")
    return Settings(
        Chosen(production, units),
        None if quiet is None else _quiet(quiet, "quiet"),
        quiet_of,
        after,
    )


# Limits, of which only what differs is said


def _limits_said(limits: Limits, base: Limits) -> Said:
    said: Said = {}
    for one in fields(Limits):
        value, before = getattr(limits, one.name), getattr(base, one.name)
        if one.name == "rules":
            rules = {name: own for name, own in value.items() if before.get(name) != own}
            if rules:
                said["rules"] = {name: _own_said(own) for name, own in rules.items()}
        elif value != before:
            word, plain = _plain(one.name, value)
            said[word] = plain
    return said


def _own_said(own: Own) -> Said:
    values = ((one.name, getattr(own, one.name)) for one in fields(Own))
    return dict(_plain(name, value) for name, value in values if value is not None)


def _plain(name: str, value: object) -> tuple[str, object]:
    if isinstance(value, timedelta):
        return f"{name}_s", value.total_seconds()
    return name, f"{value:%H:%M}" if isinstance(value, time) else value


def _limits(said: Mapping[str, Any], base: Limits, where: str) -> Limits:
    given: Said = {}
    kinds = {one.name: getattr(base, one.name) for one in fields(Limits)}
    for word, value in said.items():
        at = f"{where}.{word}"
        name = word.removesuffix("_s")
        if word == "rules":
            given["rules"] = {**base.rules, **_rules(value, at)}
        elif word == "habit":
            given["habit"] = _one_of(value, get_args(Habit), at)
        elif name != word and isinstance(kinds.get(name), timedelta):
            given[name] = _duration(value, at)
        elif isinstance(kinds.get(word), time):
            given[word] = _clock(value, at)
        elif isinstance(kinds.get(word), int):
            given[word] = _number(value, at)
        else:
            raise BadSetting(at, value, "a setting that there is")
    return replace(base, **given)


def _rules(said: Mapping[str, Any], where: str) -> dict[str, Own]:
    found = {}
    for name, own in said.items():
        at = f"{where}.{name}"
        _one_of(name, tuple(BY_NAME), at)
        given: Said = {}
        for word, value in own.items():
            if word == "on" and isinstance(value, bool):
                given["on"] = value
            elif word in ("after_s", "delay_s", "repeat_s"):
                given[word.removesuffix("_s")] = _duration(value, f"{at}.{word}")
            else:
                raise BadSetting(f"{at}.{word}", value, "on (true or false), after_s, delay_s or "
                                 "repeat_s")  # fmt: skip
        if given.get("repeat") == timedelta(0):
            raise BadSetting(f"{at}.repeat_s", 0, "more than 0 seconds")
        found[name] = Own(**given)
    return found


def _quiet_said(hours: QuietHours) -> Said:
    return {
        "start": f"{hours.start:%H:%M}",
        "end": f"{hours.end:%H:%M}",
        "pierced": hours.pierced,
    }


def _quiet(said: Mapping[str, Any], where: str) -> QuietHours:
    pierced = said.get("pierced", True)
    if not isinstance(pierced, bool):
        raise BadSetting(f"{where}.pierced", pierced, "true or false")
    start, end = (_clock(said.get(word), f"{where}.{word}") for word in ("start", "end"))
    return QuietHours(start, end, pierced)


# Single values


def _maybe(read: Callable[[Any, str], T], value: Any, where: str) -> T | None:
    return None if value is None else read(value, where)


def _duration(value: Any, where: str) -> timedelta:
    longest = timedelta(days=365).total_seconds()
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= longest:
        raise BadSetting(where, value, "seconds, from 0 to a year")
    return timedelta(seconds=value)


def _number(value: Any, where: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise BadSetting(where, value, "a whole number, 0 or more")
    return value


def _clock(value: Any, where: str) -> time:
    try:
        return time.fromisoformat(value)
    except (TypeError, ValueError):
        raise BadSetting(where, value, "a time of day like 07:00") from None


def _one_of(value: Any, known: tuple[str, ...], where: str) -> Any:
    if value not in known:
        raise BadSetting(where, value, f"one of {', '.join(known)}")
    return value
