"""A checkpoint reads back as it was written, and one that was changed is refused."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.wire.checkpoint import Checkpoint, Head, NoCheckpoint, read_checkpoint, written

AT = datetime(2026, 3, 2, 20, 0, tzinfo=UTC)
HEADS = (Head("drive/RAID", "o", 2, "ab" * 32), Head("production", "o", 7, "cd" * 32))
DAY = Checkpoint("The Long Pier", "o", AT, HEADS)


def test_it_reads_back() -> None:
    read = read_checkpoint(written(DAY), "day.json")
    assert read == DAY
    assert read.facts == 9
    assert len(read.root) == 64


def test_one_of_an_empty_journal_reads_back() -> None:
    empty = Checkpoint("Pier", "o", AT, ())
    assert read_checkpoint(written(empty), "") == empty


texts = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=8)
heads = st.builds(Head, texts, texts, st.integers(1, 2**40), texts)


@given(st.lists(heads, max_size=9, unique_by=lambda head: head[:2]), texts)
def test_any_reads_back(some: list[Head], name: str) -> None:
    made = Checkpoint(name, "o", AT, tuple(sorted(some)))
    assert read_checkpoint(written(made), "") == made


def changed(**fields: Any) -> bytes:
    return json.dumps({**json.loads(written(DAY)), **fields}).encode()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "not written as one"),
        (b"[]", "not written as one"),
        (b"\xff\xfe{", "not written as one"),
        (b"[" * 100_000, "not written as one"),
        (changed(what="a backup"), "something else"),
        (changed(format=2), "it has the form 2, 1 is known here"),
        (changed(root="00" * 32), "it was changed"),
        (changed(facts=8), "it was changed"),
        (changed(heads=[list(HEADS[0])]), "it was changed"),
        (changed(heads=[list(head) for head in HEADS[::-1]]), "it was changed"),
        (changed(heads=[["drive/RAID", "o", 2]]), "not written as one"),
        (changed(heads=[["drive/RAID", "o", "2", "ab"]]), "not written as one"),
        (changed(heads=7), "not written as one"),
        (changed(made_at="yesterday"), "not written as one"),
        (changed(made_at="2026-03-02T20:00:00"), "it was changed"),
    ],
)
def test_one_that_was_changed(data: bytes, said: str) -> None:
    with pytest.raises(NoCheckpoint) as refused:
        read_checkpoint(data, "day.json")
    assert str(refused.value).startswith("day.json is no checkpoint")
    assert said in str(refused.value)
    assert str(refused.value).endswith("; take another")
