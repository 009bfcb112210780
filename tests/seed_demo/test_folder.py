"""The folder as files: the same bytes every time, and every line a fact that the wire knows."""

from __future__ import annotations

import csv
import json
from collections import Counter
from dataclasses import MISSING, fields
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest

import seed_demo
from tracker.domain import facts

ENVELOPE = {
    "logged_at",
    "origin",
    "source",
    "clamped",
    "by",
    "tapped_by",
    "card_id",
    "guessed_roll",
}
"""What the server adds; a sender does not say it."""


def fields_by_event() -> dict[tuple[str, str | None], tuple[set[str], set[str]]]:
    """For each event and subject: the fields that must be there, and those that may."""
    table = {}
    for kind in facts.FACTS:
        needed: set[str] = {"event"}
        allowed: set[str] = {"event"}
        for field in fields(kind):
            if field.name in ENVELOPE:
                continue
            word = facts.WIRE_NAMES.get(field.name, field.name)
            allowed.add(word)
            if field.default is MISSING:
                needed.add(word)
        table[(kind.event, subject(allowed))] = (needed, allowed)
    return table


def subject(words: set[str] | dict[str, Any]) -> str | None:
    return next((word for word in ("card", "drive", "unit") if word in words), None)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "causeway"
    seed_demo.write(folder)
    return folder


@pytest.fixture(scope="module")
def journal(folder: Path) -> list[dict[str, Any]]:
    paths = sorted(folder.glob("*.jsonl"))
    return [json.loads(line) for path in paths for line in path.read_text().splitlines()]


def test_the_same_seed_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    seed_demo.write(tmp_path)

    names = sorted(path.name for path in folder.iterdir())
    assert names == sorted(path.name for path in tmp_path.iterdir())
    assert all((folder / name).read_bytes() == (tmp_path / name).read_bytes() for name in names)


def test_another_seed_plays_to_the_end_as_well(folder: Path, tmp_path: Path) -> None:
    for seed in range(5):
        seed_demo.write(tmp_path, seed=seed)

    assert (tmp_path / "week-1.jsonl").read_bytes() != (folder / "week-1.jsonl").read_bytes()


def test_there_is_one_file_a_week_and_they_sort_by_time(folder: Path) -> None:
    names = sorted(path.name for path in folder.glob("*.jsonl"))

    assert names == [f"week-{number}.jsonl" for number in range(1, 7)]


def test_every_line_is_a_known_event_with_allowed_fields_only(
    journal: list[dict[str, Any]],
) -> None:
    known = fields_by_event()
    for fact in journal:
        about = "card" if "card" in fact else subject(fact)
        needed, allowed = known.get((fact["event"], about)) or known[(fact["event"], None)]
        assert needed <= set(fact) <= allowed, fact


def test_ids_are_unique_and_times_carry_their_offset(journal: list[dict[str, Any]]) -> None:
    assert len({UUID(fact["id"]) for fact in journal}) == len(journal)
    assert all(datetime.fromisoformat(f["occurred_at"]).utcoffset() for f in journal)


def test_nothing_happens_after_the_story_stops(journal: list[dict[str, Any]]) -> None:
    now = datetime.fromisoformat(str(seed_demo.ABOUT["now"]))
    last = max(datetime.fromisoformat(fact["occurred_at"]) for fact in journal)

    assert (now - last).total_seconds() in range(600)


def test_cards_that_a_fact_names_are_in_the_pool_or_were_registered(
    folder: Path, journal: list[dict[str, Any]]
) -> None:
    with (folder / "pool.csv").open(newline="") as file:
        known = {row["Label"] for row in csv.DictReader(file)}
    known |= {fact["card"] for fact in journal if fact["event"] == "registered"}

    assert {fact["card"] for fact in journal if "card" in fact} == known
    assert len(known) == 40


def test_a_void_or_a_settlement_names_a_fact_of_the_same_card(
    journal: list[dict[str, Any]],
) -> None:
    card_of = {fact["id"]: fact.get("card") for fact in journal}
    pointing = [fact for fact in journal if "target" in fact]

    assert pointing
    assert all(card_of[fact["target"]] == fact["card"] for fact in pointing)


NEVER_IN_THIS_STORY = {
    "relabelled",
    "copy_lost",
    "clearing_withdrawn",
    "damage_settled",
    "drive_registered",
    "drive_failed",
    "drive_returned",
    "proof_kept",
    "plan_committed",
    "camera_set",
}


def test_every_other_kind_of_event_happens(journal: list[dict[str, Any]]) -> None:
    happened = Counter(fact["event"] for fact in journal)

    assert set(happened) == {kind.event for kind in facts.FACTS} - NEVER_IN_THIS_STORY
