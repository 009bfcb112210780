"""One shooting week over HTTP, where it lies beside the project."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.services.harbour import Clock, Harbour
from tests.web.conftest import Web
from tracker.domain.rule import BackupRule
from tracker.services.logging import said_in
from tracker.services.production import bring_in, set_up
from tracker.services.service import Service
from tracker.store.engine import Store
from tracker.wire.inventory import CAMERAS, CARDS, DRIVES, read_inventory

WEEK = Path(__file__).parents[2].parent / "shared" / "inputs" / "week"
LATER = datetime(2026, 11, 2, 8, tzinfo=UTC)


@pytest.mark.skipif(not WEEK.is_dir(), reason="the shared week does not lie beside the project")
@pytest.mark.parametrize("dialect", ["sqlite", "postgresql"])
def test_the_week_comes_out_exactly(new_store: Callable[..., Store], dialect: str) -> None:
    service = Service(new_store(dialect), Clock(LATER))
    set_up(service, "Week", ZoneInfo("Europe/Helsinki"), time(5), BackupRule(2))
    for name, kind in (("pool", CARDS), ("cameras", CAMERAS), ("drives", DRIVES)):
        file = WEEK / f"{name}.csv"
        rows = read_inventory(kind, file.read_bytes(), file.name, LATER)
        bring_in(service, said_in([rows]))
    web = Web(Harbour(service, Clock(LATER)))
    facts = [json.loads(line) for line in (WEEK / "week.jsonl").read_text().splitlines()]
    assert web.post(facts, "history", query="?history=true").status_code == 201
    told = web.told("now")
    expected = json.loads((WEEK / "expected_now.json").read_text())
    cards = [
        {key: card[key] for key in wanted}
        for card, wanted in zip(told["cards"], expected["cards"], strict=True)
    ]
    assert cards == expected["cards"]
    assert made(told["mishaps"]) == made(expected["mishaps"])
    for key in ("rolls_below_rule", "time_zone", "day_starts"):
        assert told[key] == expected[key]
    assert expected["rule"].items() <= told["rule"].items()


def made(mishaps: list[dict[str, str | None]]) -> Counter[tuple[str | None, ...]]:
    return Counter((m["card"], m["kind"], m["roll"]) for m in mishaps)
