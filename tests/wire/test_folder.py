from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tracker.wire import folder as folder_module
from tracker.wire.faults import BadInput
from tracker.wire.folder import START, read_folder

POOL = "Label,Type,Size\nS-001,SSD,1 TB\nS-002,SSD,1 TB\n"


def noted(number: int, **more: Any) -> str:
    obj = {
        "id": f"0190b5d4-7c3a-7c1e-8f00-{number:012x}",
        "event": "noted",
        "card": "S-001",
        "occurred_at": "2026-03-02T14:05:00Z",
        "text": "x",
    }
    return json.dumps(obj | more) + "\n"


def said(path: Path) -> list[str]:
    with pytest.raises(BadInput) as refused:
        read_folder(path)
    return [fault.message for fault in refused.value.faults]


def test_a_folder_is_one_journal_lists_first_then_files_by_name(tmp_path: Path) -> None:
    (tmp_path / "pool.csv").write_text(POOL)
    (tmp_path / "drives.csv").write_text("Label,Kind,Size,Place\nRAID-1,raid,64 TB,on set\n")
    (tmp_path / "cameras.csv").write_text("Letter,Unit\nA,main\n")
    (tmp_path / "b.jsonl").write_text(noted(2))
    (tmp_path / "a.jsonl").write_text("\n" + noted(1))
    (tmp_path / "notes.txt").write_text("not ours")
    read = read_folder(tmp_path)
    assert [fact.event for fact in read.facts] == [
        *("registered", "registered", "camera_set", "drive_registered", "noted", "noted")
    ]
    assert list(read.places.values()) == [
        ("pool.csv", 2),
        ("pool.csv", 3),
        ("cameras.csv", 2),
        ("drives.csv", 2),
        ("a.jsonl", 2),
        ("b.jsonl", 1),
    ]
    assert [fact.logged_at for fact in read.facts] == [
        START + timedelta(microseconds=n) for n in range(6)
    ]
    assert {(fact.source, fact.origin) for fact in read.facts} == {("history", "files")}


def test_a_fact_said_twice_is_kept_once(tmp_path: Path) -> None:
    (tmp_path / "a.jsonl").write_text(noted(1) + noted(1, sent_at="2026-03-02T15:00:00Z"))
    (tmp_path / "b.jsonl").write_text(noted(1) + noted(2))
    read = read_folder(tmp_path)
    assert [read.places[fact.id] for fact in read.facts] == [("a.jsonl", 1), ("b.jsonl", 2)]
    assert read.facts[1].logged_at == START + timedelta(microseconds=1)


def test_one_id_with_two_bodies_names_both_lines(tmp_path: Path) -> None:
    (tmp_path / "a.jsonl").write_text(noted(1))
    (tmp_path / "b.jsonl").write_text("\n" + noted(1, text="y"))
    assert said(tmp_path) == [
        "b.jsonl, line 2, id: found the id of a.jsonl, line 1, with another body, "
        "expected an id of its own, or the same fact again word for word."
    ]


def test_the_faults_of_all_files_come_together_and_nothing_is_taken(tmp_path: Path) -> None:
    (tmp_path / "pool.csv").write_text(POOL.replace("1 TB", "big", 1))
    (tmp_path / "a.jsonl").write_text(noted(1) + "{\n" + noted(2, clips=3))
    (tmp_path / "b.jsonl").mkdir()
    starts = [message.split(": ")[0] for message in said(tmp_path)]
    assert starts == [
        "pool.csv, line 2, Size",
        "a.jsonl, line 2",
        "a.jsonl, line 3, clips",
        "b.jsonl",
    ]


def test_a_folder_of_nothing_is_refused(tmp_path: Path) -> None:
    assert "expected a folder with pool.csv or *.jsonl" in said(tmp_path)[0]
    assert "expected a folder with pool.csv or *.jsonl" in said(tmp_path / "nowhere")[0]


def test_a_pool_alone_is_enough(tmp_path: Path) -> None:
    (tmp_path / "pool.csv").write_text(POOL)
    assert len(read_folder(tmp_path).facts) == 2


def test_a_file_that_is_too_large_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folder_module, "LARGEST_FILE", 10)
    (tmp_path / "a.jsonl").write_text(noted(1))
    assert "expected at most 10: split the file" in said(tmp_path)[0]
