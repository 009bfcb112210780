"""The story could have happened: sizes, speeds and places are those of real things.

Replayed from the files alone. The limits are common practice, no source.
"""

from __future__ import annotations

import json
from collections import defaultdict
from datetime import datetime
from typing import Any

import pytest

import seed_demo
from seed_demo.cast import CAMERAS, DRIVES, GB, MB, TB, VISITORS, pool
from seed_demo.world import World

Journal = list[dict[str, Any]]
RATES = {camera.letters: camera.bytes_per_s for camera in CAMERAS}


def when(fact: dict[str, Any]) -> datetime:
    return datetime.fromisoformat(fact["occurred_at"])


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Journal:
    """Every fact that was not voided, in the order of what happened."""
    folder = tmp_path_factory.mktemp("demo")
    seed_demo.write(folder)
    paths = sorted(folder.glob("*.jsonl"))
    facts = [json.loads(line) for path in paths for line in path.read_text().splitlines()]
    voided = {fact["target"] for fact in facts if fact["event"] == "voided"}
    return sorted((fact for fact in facts if fact["id"] not in voided), key=when)


def test_a_card_is_in_one_camera_at_a_time_and_a_slot_holds_one_card(journal: Journal) -> None:
    slots = {camera.letters: camera.slots for camera in CAMERAS}
    inside: dict[str, str] = {}
    for fact in journal:
        card = fact.get("card", "")
        if fact["event"] in ("pulled", "handed_over", "copy_started") and "from" not in fact:
            inside.pop(card, None)
        if fact["event"] == "loaded":
            assert card not in inside, fact
            inside[card] = fact["camera"]
            assert list(inside.values()).count(fact["camera"]) <= slots[fact["camera"]], fact


def test_what_is_on_a_card_fits_on_it(journal: Journal) -> None:
    capacity = {card.label: card.capacity for card in pool(World(0).rng)}
    held: dict[str, dict[str, int]] = defaultdict(dict)
    roll: dict[str, str] = {}
    for fact in journal:
        card = fact.get("card", "")
        if fact["event"] == "loaded":
            roll[card] = fact["roll"]
        if fact["event"] == "formatted" or fact.get("formatted"):
            held[card] = {}
        if fact["event"] == "pulled":
            held[card][roll[card]] = fact.get("bytes", 0)
            assert sum(held[card].values()) <= capacity[card], fact


def test_footage_is_no_longer_than_the_card_was_in_the_camera(journal: Journal) -> None:
    loaded: dict[str, dict[str, Any]] = {}
    for fact in journal:
        if fact["event"] == "loaded":
            loaded[fact["card"]] = fact
        if fact["event"] == "pulled":
            into = loaded[fact["card"]]
            inside = (when(fact) - when(into)).total_seconds()
            assert fact.get("bytes", 0) <= (inside + 60) * RATES[into["camera"]], fact


def copies(journal: Journal) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Each finished copy with its start."""
    started: dict[tuple[str, str, str | None], dict[str, Any]] = {}
    found = []
    for fact in journal:
        if fact["event"] not in ("copy_started", "copy_finished"):
            continue
        key = (fact["card"], fact["drive"], fact.get("roll"))
        if fact["event"] == "copy_started":
            started[key] = fact
        else:
            found.append((started[key], fact))
    return found


def test_copies_take_their_time(journal: Journal) -> None:
    for start, finish in copies(journal):
        lasted = (when(finish) - when(start)).total_seconds()
        assert abs(lasted - finish["seconds"]) <= 1
        assert 60 * MB <= finish["bytes"] / lasted <= 400 * MB, finish


def test_two_cards_at_most_are_read_at_once(journal: Journal) -> None:
    reading = [
        (when(start), when(finish), start["reader"], start["card"])
        for start, finish in copies(journal)
        if "from" not in start and finish["drive"] == "HERON-RAID"
    ]
    for begin, _, reader, card in reading:
        others = [c for b, e, r, c in reading if b <= begin < e and r == reader]
        assert others == [card], (begin, reader, others)


def test_a_card_is_not_loaded_while_it_is_read(journal: Journal) -> None:
    busy_until: dict[str, datetime] = {}
    for start, finish in copies(journal):
        if "from" not in start:
            card = start["card"]
            busy_until[card] = max(when(finish), busy_until.get(card, when(finish)))
            loads = [f for f in journal if f["event"] == "loaded" and f["card"] == card]
            assert not [f for f in loads if when(start) < when(f) < when(finish)]


def test_drives_hold_what_is_put_on_them(journal: Journal) -> None:
    capacity = {drive.label: drive.capacity_tb * TB for drive in DRIVES}
    used: dict[str, int] = defaultdict(int)
    for fact in journal:
        if fact["event"] == "drive_emptied":
            used[fact["drive"]] = 0
        if fact["event"] == "copy_finished":
            used[fact["drive"]] += fact["bytes"]
            assert used[fact["drive"]] <= capacity[fact["drive"]], fact
    assert used["HERON-RAID"] > 30 * TB


def test_nothing_is_copied_to_or_from_a_drive_that_is_elsewhere(journal: Journal) -> None:
    place = {drive.label: drive.place for drive in DRIVES}
    for fact in journal:
        if fact["event"] == "drive_moved":
            place[fact["drive"]] = fact["place"]
        if fact["event"] in ("copy_started", "copy_finished") and "from" not in fact:
            assert place[fact["drive"]] == "on set", fact
        if fact["event"].startswith("copy_"):
            assert place[fact["drive"]] not in ("in transit", "off site"), fact


def test_a_shuttle_is_emptied_only_when_its_rolls_are_on_a_vault(journal: Journal) -> None:
    on: dict[str, set[tuple[str, str]]] = defaultdict(set)
    emptied = 0
    for fact in journal:
        if fact["event"] == "copy_checked" and not fact["card"].startswith(VISITORS):
            on[fact["drive"]].add((fact["card"], fact["roll"]))
        if fact["event"] == "drive_emptied":
            emptied += 1
            assert on[fact["drive"]]
            assert on[fact["drive"]] <= on["NEST-1"] | on["NEST-2"], fact
            on[fact["drive"]].clear()
    assert emptied > 20


def test_wear_read_agrees_with_what_was_written(journal: Journal) -> None:
    read: dict[str, int] = {}
    for fact in journal:
        if fact["event"] == "health_read":
            assert fact["host_bytes_written"] >= read.get(fact["card"], 0)
            assert 0 < fact["wear_percent"] < 100
            read[fact["card"]] = fact["host_bytes_written"]
    assert len(read) > 10
    assert max(read.values()) > 100 * GB
