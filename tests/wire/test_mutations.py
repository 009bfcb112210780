"""A small week, damaged in every way that files are: either refused, or read as it stands.

Where a damaged file reads clean, a reading of its own (json.loads, csv.reader, no code of
ours) must say the same: nothing is ever changed in silence.
"""

from __future__ import annotations

import csv
import io
import json
import random
import re
from collections.abc import Callable
from dataclasses import fields
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tracker.domain.facts import Fact
from tracker.wire.faults import BadInput
from tracker.wire.folder import read_folder

PYTHON_WORDS = {"as": ("loaded_as",), "from": ("made_from", "received_from")}
ADDED = {"logged_at", "origin", "source"}
BY_DEFAULT: dict[str, Any] = {"loaded_as": "main", "slots": 1, "kinds": 1, "off_site": 0}
BY_DEFAULT |= {"hold_days": 0, "rolls": "main"}

POOL = """Label,Type,Size,Serial,Sustained write MB/s,Owner,Notes
S-001,2.5in SSD,1.92 TB,QX1,480,rental,
S-002,2.5in SSD,960 GB,QX2,450,production,"label, loose"
S-003,CF card,512 GB,QX3,,rental,café
"""
DRIVES = """Label,Kind,Size,Place
RAID-1,raid,64 TB,on set
VAULT-1,hdd,20 TB,off site
"""


def week() -> list[dict[str, Any]]:
    said: list[dict[str, Any]] = [
        {"event": "rule_set", "copies": 2, "level": "checksummed", "off_site": 1},
        {"event": "called", "unit": "main", "day_number": "1"},
    ]
    for card, camera in (("S-001", "A"), ("S-002", "B"), ("S-003", "A")):
        roll = {"card": card, "roll": f"{camera}{card[-3:]}"}
        said += [
            {"event": "checked_in", "card": card, "found": "empty"},
            {"event": "loaded", "camera": camera, "slot": 1, "as": "main", "formatted": True}
            | roll,
            {"event": "pulled", "card": card, "bytes": 480_000_000_000, "clips": 12}
            | {"seconds": 3532.5, "unmounted": True, "scenes": ["12A", "14"]},
            {"event": "handed_over", "card": card, "to": "Ümit", "place": "cart"},
            {"event": "copy_started", "drive": "RAID-1"} | roll,
            {"event": "copy_finished", "drive": "RAID-1", "bytes": str(2**60), "measured": True}
            | roll,
            {"event": "copy_checked", "drive": "RAID-1", "level": "reread", "proof": "ab" * 32}
            | roll,
            {"event": "copy_finished", "drive": "VAULT-1", "from": "RAID-1"} | roll,
            {"event": "noted", "card": card, "text": "tape over the “door”\nsee photo 😀"},
        ]
    said += [
        {"event": "damage_noted", "card": "S-002", "part": "connector", "severity": 2}
        | {"text": "two pins pushed in"},
        {"event": "health_read", "card": "S-001", "tool": "reader", "verdict": "good"}
        | {"temperature_c": -3, "wear_percent": 2.5},
        {"event": "counted", "unit": "main", "cards": ["S-001", "S-002"], "not_found": ["S-003"]},
        {"event": "wrapped", "unit": "main"},
    ]
    return [
        {"id": f"00000000-0000-7000-8000-{n:012x}"}
        | fact
        | {"occurred_at": f"2026-03-02T{8 + n // 60:02}:{n % 60:02}:00+02:00"}
        for n, fact in enumerate(said)
    ]


FILES = {
    "pool.csv": POOL.encode(),
    "drives.csv": DRIVES.encode(),
    "week.jsonl": "".join(json.dumps(o, ensure_ascii=False) + "\n" for o in week()).encode(),
}

Damage = Callable[[random.Random, bytes], bytes]


def flip_bits(rng: random.Random, data: bytes) -> bytes:
    raw = bytearray(data)
    for _ in range(rng.randint(1, 3)):
        raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
    return bytes(raw)


def delete(rng: random.Random, data: bytes) -> bytes:
    at = rng.randrange(len(data))
    return data[:at] + data[at + rng.choice([1, 1, 2, 30, 300]) :]


def insert(rng: random.Random, data: bytes) -> bytes:
    at = rng.randrange(len(data))
    piece = rng.choice(
        [
            *(b"\n", b"\r", b'"', b",", b";", b"\t", b"{", b"}", b"0", b"-", b"\0", b"\xff"),
            *(b"\\u0000", b"\\ud800", b"\xc2\xa0", b"\xe2\x80\xae", b"1e999", b"NaN", b"'", b"="),
        ]
    )
    return data[:at] + piece + data[at:]


def swap_bytes(rng: random.Random, data: bytes) -> bytes:
    raw = bytearray(data)
    one, other = rng.randrange(len(raw)), rng.randrange(len(raw))
    raw[one], raw[other] = raw[other], raw[one]
    return bytes(raw)


def truncate(rng: random.Random, data: bytes) -> bytes:
    return data[: rng.randrange(len(data))]


def double_line(rng: random.Random, data: bytes) -> bytes:
    lines = data.splitlines(keepends=True)
    lines.insert(rng.randrange(len(lines)), rng.choice(lines))
    return b"".join(lines)


def swap_lines(rng: random.Random, data: bytes) -> bytes:
    lines = data.splitlines(keepends=True)
    rng.shuffle(lines)
    return b"".join(lines)


def drop_line(rng: random.Random, data: bytes) -> bytes:
    lines = data.splitlines(keepends=True)
    del lines[rng.randrange(len(lines))]
    return b"".join(lines)


def wrong_type(rng: random.Random, data: bytes) -> bytes:
    """Another value in one field of one line; for a table, in one cell."""
    lines = data.splitlines() or [b""]
    at = rng.randrange(len(lines))
    if not lines[at].startswith(b"{"):
        cells = lines[at].split(b",")
        cells[rng.randrange(len(cells))] = rng.choice([b"", b"-1", b"1,5", b"1e9", b"'=x", b"\xff"])
        lines[at] = b",".join(cells)
        return b"\n".join(lines)
    try:
        obj = json.loads(lines[at])
    except (ValueError, RecursionError):  # already damaged
        return data
    if not isinstance(obj, dict) or not obj:
        return data
    values: list[Any] = [None, True, False, 0, -1, 1.5, 2**53, 2**80, "", " ", "x", [], ["x"]]
    values += [{}, {"card": "S-001"}, "9007199254740993", "12", "2026-03-02T10:00:00Z", "ab" * 32]
    obj[rng.choice(sorted(obj))] = rng.choice(values)
    lines[at] = json.dumps(obj).encode()
    return b"\n".join(lines)


def nest(rng: random.Random, data: bytes) -> bytes:
    depth = rng.choice([3, 100, 900, 100_000])
    bomb = b'{"x":' * depth if rng.random() < 0.5 else b"[" * depth + b"]" * depth
    lines = data.splitlines() or [b""]
    at = rng.randrange(len(lines))
    lines[at] = rng.choice([bomb, lines[at].replace(b'"id": ', b'"id": ' + bomb + b",", 1)])
    return b"\n".join(lines)


DAMAGES: tuple[Damage, ...] = (
    *(flip_bits, delete, insert, swap_bytes, truncate, double_line, swap_lines, drop_line),
    *(wrong_type, wrong_type, nest),
)


def same(said: Any, kept: Any) -> bool:
    """Whether a value of JSON and a field of a fact say the same, judged by neither's code."""
    if isinstance(kept, datetime):
        return datetime.fromisoformat(said.upper()) == kept
    if isinstance(kept, tuple):
        return bool(said == list(kept))
    if isinstance(kept, bool) or isinstance(said, bool):
        return kept is said
    if isinstance(kept, int | float) and isinstance(said, str):
        return said == str(kept)
    return bool(said == kept)


def agrees(obj: dict[str, Any], fact: Fact) -> bool:
    """Whether a fact says all that its line says, and nothing else."""
    left = {field.name for field in fields(fact)} - ADDED
    for word, said in obj.items():
        if word == "sent_at":
            continue
        names = [name for name in PYTHON_WORDS.get(word, (word,)) if hasattr(fact, name)]
        kept = getattr(fact, names[0])
        if not same(said.lower() if word == "id" else said, kept):
            return False
        left.discard(names[0])
    return all(getattr(fact, name) in (None, False, BY_DEFAULT.get(name)) for name in left)


def json_agrees(data: bytes, facts: list[Fact]) -> bool:
    text = data.decode("utf-8-sig")
    said = [json.loads(line) for line in text.split("\n") if line.strip(" \t\r")]
    once = list({json.dumps(obj, sort_keys=True): obj for obj in said}.values())
    return len(once) == len(facts) and all(map(agrees, once, facts))


def size_agrees(cell: str, fact: Fact) -> bool:
    """Whether a capacity is what its cell says, where the cell is a plain one."""
    plain = re.fullmatch(r"([0-9]+(?:[.][0-9]+)?) ?([GT])B", cell)
    power = {"G": 10**9, "T": 10**12}
    kept = getattr(fact, "capacity_bytes", None)
    return plain is None or kept == Fraction(plain[1]) * power[plain[2]]


def table_agrees(data: bytes, facts: list[Fact], attributes: dict[str, str]) -> bool:
    text = data.decode("utf-8-sig")
    delimiter = max(",;\t", key=text.lstrip("\r\n").splitlines()[0].count)
    read = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    header, *said = [[cell.strip() for cell in row] for row in read if any(row)]
    names = [name.lower() for name in header]
    sizes = [row[names.index("size")] for row in said] if "size" in names else []
    if not all(size_agrees(size, fact) for size, fact in zip(sizes, facts, strict=False)):
        return False
    return len(said) == len(facts) and all(
        dict(zip(names, row, strict=False)).get(column, "") == (getattr(fact, attribute) or "")
        for row, fact in zip(said, facts, strict=True)
        for column, attribute in attributes.items()
        if column in names
    )


def run(rounds: int, seed: int, folder: Path) -> tuple[int, int]:
    """How many damaged weeks were refused, and how many read clean."""
    rng = random.Random(seed)
    refused = clean = 0
    for _ in range(rounds):
        files = dict(FILES)
        name = rng.choice(["pool.csv", "drives.csv", *["week.jsonl"] * 4])
        for _ in range(rng.choice([1, 1, 2])):
            files[name] = rng.choice(DAMAGES)(rng, files[name] or b"x")
        for each, data in files.items():
            (folder / each).write_bytes(data)
        try:
            read = read_folder(folder)
        except BadInput as error:
            assert all(fault.message.encode() for fault in error.faults)
            refused += 1
            continue
        clean += 1
        check(files, name, read.facts, read.places)
    return refused, clean


def check(
    files: dict[str, bytes], name: str, facts: list[Fact], places: dict[str, tuple[str, int]]
) -> None:
    for each, data in files.items():
        ours = [fact for fact in facts if places[fact.id][0] == each]
        if each == "week.jsonl":
            assert json_agrees(data, ours), (name, data)
        elif each == "pool.csv":
            columns = {"label": "card", "type": "media", "serial": "serial"}
            assert table_agrees(data, ours, columns | {"owner": "owner", "notes": "text"}), data
        else:
            assert table_agrees(data, ours, {"label": "drive"}), (name, data)


def test_the_week_itself_reads_clean(tmp_path: Path) -> None:
    for name, data in FILES.items():
        (tmp_path / name).write_bytes(data)
    read = read_folder(tmp_path)
    assert len(read.facts) == 5 + len(week())
    check(FILES, "", read.facts, read.places)


def test_the_independent_reading_sees_a_silent_change(tmp_path: Path) -> None:
    for name, data in FILES.items():
        (tmp_path / name).write_bytes(data)
    read = read_folder(tmp_path)
    ours = [fact for fact in read.facts if read.places[fact.id][0] == "week.jsonl"]
    assert not json_agrees(FILES["week.jsonl"].replace(b"3532.5", b"3532.4", 1), ours)
    assert not json_agrees(FILES["week.jsonl"].replace(b'"clips": 12, ', b"", 1), ours)


def test_damaged_weeks_are_refused_or_read_as_they_stand(tmp_path: Path) -> None:
    refused, clean = run(500, 20260302, tmp_path)
    assert refused > 100
    assert clean > 50


@pytest.mark.long
def test_many_damaged_weeks_are_refused_or_read_as_they_stand(tmp_path: Path) -> None:
    refused, clean = run(20_000, 1, tmp_path)
    assert refused > 5_000
    assert clean > 2_000
