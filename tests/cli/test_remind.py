"""`cardwright remind --dry-run`: what would go out at a time, to whom and why."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from freezegun import freeze_time

from tracker.cli.main import main

CAMERAS = "Letter,Unit,Takes\nA,main,2.5in SSD\n"
POOL = "Label,Type,Size\nS-014,2.5in SSD,1 TB\n"
DRIVES = "Label,Kind,Size,Place\nRAID,raid,64 TB,on set\n"

Run = Callable[..., tuple[int, str, str]]


def fact(number: int, at: str, event: str, **fields: object) -> dict[str, object]:
    return {
        "id": f"00000000-0000-4000-8000-{number:012d}",
        "event": event,
        "occurred_at": f"2026-03-02T{at}:00+02:00",
        **fields,
    }


DAY = [
    fact(1, "08:00", "called", unit="main"),
    fact(2, "08:30", "loaded", card="S-014", camera="A", roll="A001", formatted=True),
    fact(3, "10:00", "pulled", card="S-014", bytes=480_000_000_000),
]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command on a production in Helsinki whose S-014 came out at 10:00."""
    monkeypatch.setenv("CARDWRIGHT_DATA", str(tmp_path / "data"))

    def command(*args: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            main([str(arg) for arg in args])
        told = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return left.value.code, told.out, told.err

    zone = ("--time-zone", "Europe/Helsinki", "--copies", 2, "--level", "checksummed")
    assert command("init", "--production", "The Long Pier", *zone)[0] == 0
    for name, text in (("cards", POOL), ("cameras", CAMERAS), ("drives", DRIVES)):
        (tmp_path / f"{name}.csv").write_text(text)
        assert command(name, "import", tmp_path / f"{name}.csv")[0] == 0
    (tmp_path / "day.jsonl").write_text("\n".join(json.dumps(one) for one in DAY))
    assert command("log", "--history", tmp_path / "day.jsonl")[0] == 0
    return command


def test_what_would_go_out_is_said_with_to_whom_and_why(run: Run) -> None:
    code, out, err = run("remind", "--at", "2026-03-02T14:30", "--dry-run")
    assert (code, err) == (0, "")
    assert out == (
        "At 2026-03-02 14:30 (Europe/Helsinki) this would go out. Nothing is sent.\n"
        "\n"
        "To the loader (nobody has this role yet), one message: 1 thing\n"
        "  * S-014 was shot (A001), came out at 10:00 and is not backed up; nobody logged where "
        "it went. Bring it to the cart. Do not format. At the cart: make 2 copies, checksummed, "
        "each on its own drive.\n"
        "    Why: exposed too long; due since 12:00; notice 2 of it, of 14:00; again every 2 h.\n"
    )


def test_where_nothing_would_go_out_it_says_so(run: Run) -> None:
    code, out, _ = run("remind", "--at", "2026-03-02T11:59", "--dry-run")
    assert code == 0
    assert out == "At 2026-03-02 11:59 (Europe/Helsinki) nobody would be reminded of anything.\n"


def test_what_waits_for_working_hours_is_named(run: Run) -> None:
    code, out, _ = run("remind", "--at", "2026-03-03T05:00", "--dry-run")
    assert code == 0
    assert "nobody would be reminded of anything" in out
    assert "For the loader, waiting for working hours: " in out
    assert "S-014" in out


def test_for_programs_it_is_json(run: Run) -> None:
    code, out, _ = run("remind", "--at", "2026-03-02T12:00:00+02:00", "--dry-run", "--json")
    told = json.loads(out)
    assert code == 0
    assert told["at"] == "2026-03-02T12:00:00+02:00"
    (message,) = told["messages"]
    (one,) = message["now"]
    assert message["to"] == "loader"
    assert (one["about"], one["rule"], one["due"]) == (
        "S-014",
        "exposed too long",
        "2026-03-02T12:00:00+02:00",
    )
    assert (one["notice"], one["repeat_s"]) == (1, 7200.0)


def test_danger_has_exit_code_1(run: Run, tmp_path: Path) -> None:
    lost = tmp_path / "lost.jsonl"
    lost.write_text(json.dumps(fact(4, "11:00", "reported_missing", card="S-014")))
    assert run("log", "--history", lost)[0] == 0
    code, out, _ = run("remind", "--at", "2026-03-02T11:30", "--dry-run")
    assert code == 1
    assert "DANGER. S-014 has been missing since 11:00, with A001" in out


def test_a_time_of_day_is_of_today_and_without_a_time_it_is_now(run: Run) -> None:
    with freeze_time(datetime(2026, 3, 2, 10, 30, tzinfo=UTC)):
        assert run("remind", "--dry-run")[1].startswith("At 2026-03-02 12:30")
        assert run("remind", "--at", "11:15", "--dry-run")[1].startswith("At 2026-03-02 11:15")


def test_without_a_dry_run_it_says_that_sending_is_yet_to_come(run: Run) -> None:
    code, out, err = run("remind", "--at", "2026-03-02T12:00")
    assert (code, out) == (2, "")
    assert "sent by the process that serves the pages" in err
    assert "--dry-run" in err


@pytest.mark.parametrize("said", ["noon", "2026-03-32T12:00", "25:00"])
def test_what_is_no_time_is_said_with_what_was_expected(run: Run, said: str) -> None:
    code, _, err = run("remind", "--at", said, "--dry-run")
    assert code == 2
    assert f"--at: found '{said}', expected a time like 2026-05-22T18:30 or 18:30." in err
