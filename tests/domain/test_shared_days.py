"""Small days in a life of cards, each aimed at one sentence of the rules.

They stand in a file beside the project, one a line: rule, drives, facts in the order of logging,
and what must stand afterwards.
"""

from __future__ import annotations

import json
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from tracker.domain.facts import DriveRegistered, Fact
from tracker.domain.fold import Production, fold_production
from tracker.domain.rule import BackupRule
from tracker.domain.status import CardView
from tracker.wire.codec import decode

DAYS = Path(__file__).parents[2].parent / "shared" / "inputs" / "days.jsonl"
LOGGED = datetime(2026, 1, 1, tzinfo=UTC)


def stories() -> list[dict[str, Any]]:
    if not DAYS.is_file():
        return []
    return [json.loads(line) for line in DAYS.read_text(encoding="utf-8").splitlines() if line]


def test_the_days_are_there() -> None:
    if not DAYS.is_file():
        pytest.skip("shared/inputs/days.jsonl does not lie beside the project")
    assert len(stories()) >= 10


@pytest.mark.parametrize("told", [pytest.param(told, id=told["name"]) for told in stories()])
def test_the_day_ends_as_it_must(told: dict[str, Any]) -> None:
    production = fold_production(
        facts_of(told), rule=BackupRule(**told["rule"]), zone=ZoneInfo(told["time_zone"])
    )
    expected = told["expect"]
    assert [card_of(view) for view in production.views()] == expected["cards"]
    mishaps = Counter((said["card"], said["kind"], said["roll"]) for said in expected["mishaps"])
    assert mishaps_of(production) == mishaps
    assert rolls_below(production) == sorted(expected["rolls_below_rule"])


def facts_of(told: dict[str, Any]) -> list[Fact]:
    """Drives are registered beforehand; each line is logged a microsecond after the last."""
    facts: list[Fact] = [
        DriveRegistered(
            id=f"drive {label}",
            occurred_at=LOGGED,
            logged_at=LOGGED,
            origin="beforehand",
            source="history",
            drive=label,
            kind=drive["kind"],
            place=drive["place"],
            capacity_bytes=20 * 10**12,
        )
        for label, drive in told["drives"].items()
    ]
    for line, said in enumerate(told["facts"], start=1):
        logged = LOGGED + timedelta(microseconds=line)
        facts.append(decode(said, logged_at=logged, origin="files", source="history"))
    return facts


def card_of(view: CardView) -> dict[str, Any]:
    return {
        "label": view.label,
        "status": view.status,
        "camera": view.camera,
        "holds": [roll.name for roll in view.holds],
        "uncovered": [roll.name for roll in view.uncovered],
        "cycles": view.cycles,
        "bytes_logged": view.bytes_logged,
    }


def mishaps_of(production: Production) -> Counter[tuple[str, str, str | None]]:
    return Counter(
        (view.label, key.kind, view.state.rolls[key.roll].name if key.roll else None)
        for view in production.views()
        for key in (mishap.key for mishap in view.mishaps)
    )


def rolls_below(production: Production) -> list[str]:
    return sorted(roll.name for view in production.views() for roll in view.below)
