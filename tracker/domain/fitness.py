"""Is a card fit for use: what its readings and its damage say, each with the reason.

What is failing, and damage of severity 3 or 4, sets a card aside by itself (see `step.py`). What
is to be watched does not. Media that gives no readings is not readable, which is no fault of it.
The drift of a measured speed is not judged here: that needs its limits over time.
"""

from __future__ import annotations

from dataclasses import dataclass

from tracker.domain.card import CardState
from tracker.domain.facts import Verdict

WATCH_WEAR_PERCENT = 70.0
"""Wear from which a card is watched, in per cent of its rating (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Fitness:
    """A verdict and the reasons for it, in the crew's words; `good` has none."""

    verdict: Verdict
    reasons: tuple[str, ...] = ()


def fitness(state: CardState) -> Fitness:
    """What is known of a card's fitness; `unreadable` where nothing is."""
    reasons = [*_by_reading(state), *_by_damage(state)]
    health = state.health
    if health is not None and health.verdict == "failing":
        return Fitness("failing", (f"{health.tool} says that it is failing", *reasons))
    if reasons:
        return Fitness("watch", tuple(reasons))
    if health is None or health.verdict == "unreadable":
        return Fitness("unreadable", ("it gives no readings",))
    return Fitness("good")


def _by_reading(state: CardState) -> list[str]:
    health = state.health
    if health is None:
        return []
    reasons = [f"{health.tool} says to watch it"] if health.verdict == "watch" else []
    if health.wear_percent is not None and health.wear_percent >= WATCH_WEAR_PERCENT:
        reasons.append(f"it is {health.wear_percent:g} % worn")
    if health.interface_errors:
        reasons.append(f"{health.interface_errors:,} errors between it and the reader")
    return reasons


def _by_damage(state: CardState) -> list[str]:
    return [
        f"damage to its {damage.part}: {damage.text}"
        for damage in state.damage
        if damage.severity >= 2 and damage.id not in state.damage_settled
    ]
