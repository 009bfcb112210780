"""The commands on plain files, as a data manager would use them."""

import json
from pathlib import Path

import pytest

from tracker.cli.main import main

POOL = "Label,Type,Size,TBW\nS-014,2.5in SSD,1 TB,300\nS-015,2.5in SSD,1 TB,300\n"
DRIVES = "Label,Kind,Size,Place\nRAID,raid,64 TB,on set\nSHUTTLE,ssd,8 TB,on set\n"
TWO_COPIES = '{"copies": 2, "level": "checksummed"}'
PROOF = "5" * 64


class Journal:
    """A file of facts, one after the other."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def say(self, at: str, event: str, **fields: object) -> "Journal":
        number = len(self.lines) + 1
        fact = {
            "id": f"00000000-0000-4000-8000-{number:012d}",
            "event": event,
            "card": "S-014",
            "occurred_at": f"2026-03-02T{at}:00+02:00",
            **fields,
        }
        self.lines.append(json.dumps(fact))
        return self

    def shot(self) -> "Journal":
        self.say("08:00", "loaded", camera="A", roll="A001", formatted=True)
        return self.say("09:00", "pulled", bytes=480_000_000_000)

    def copied_to(self, *drives: str) -> "Journal":
        for drive in drives:
            self.say("10:00", "copy_checked", drive=drive, level="checksummed", proof=PROOF)
        return self


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "pool.csv").write_text(POOL)
    (tmp_path / "drives.csv").write_text(DRIVES)
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(list(args))
    told = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, told.out, told.err


def keep(folder: Path, journal: Journal) -> None:
    (folder / "monday.jsonl").write_text("\n".join(journal.lines))


def now(capsys: pytest.CaptureFixture[str], folder: Path, *more: str) -> tuple[int, str, str]:
    return run(
        capsys, "now", "--from", str(folder), "--rule", TWO_COPIES,
        "--time-zone", "Europe/Helsinki", *more,
    )  # fmt: skip


def test_a_card_that_was_shot_is_not_to_be_formatted(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(folder, Journal().shot().copied_to("RAID"))
    code, out, _ = now(capsys, folder)
    assert code == 0
    assert "DO NOT FORMAT" in out
    assert "1 of 2 copies" in out


def test_a_card_whose_copies_are_there_waits_for_the_data_manager(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(folder, Journal().shot().copied_to("RAID", "SHUTTLE"))
    code, out, _ = now(capsys, folder, "--json")
    card = json.loads(out)["cards"][0]
    assert (code, card["status"], card["uncovered"]) == (0, "backed up", [])
    assert (card["who"], card["may_format"]) == ("data manager", False)


def test_danger_stands_first_and_leaves_with_1(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wiped = Journal().shot().copied_to("RAID").say("11:00", "formatted", where="camera")
    keep(folder, wiped)
    code, out, _ = now(capsys, folder)
    assert code == 1
    assert out.index("Danger: 1") < out.index("Cards: 2")
    assert "footage may be lost" in out


def test_every_faulty_line_is_named_and_nothing_is_taken(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = Journal().shot().say("10:00", "copy_started", drive="RIAD")
    journal.say("10:05", "noted", card="S-041", text="which one?")
    keep(folder, journal)
    code, out, err = now(capsys, folder)
    assert (code, out) == (3, "")
    assert "monday.jsonl, line 3, drive: found 'RIAD'" in err
    assert "RAID" in err
    assert "monday.jsonl, line 4, card: found 'S-041'" in err
    assert "S-014" in err


@pytest.mark.parametrize(
    "wrong",
    [
        ["now"],
        ["now", "--from", "nowhere/at/all"],
        ["now", "--from", ".", "--rule", '{"copies": 0, "level": "checksummed"}'],
        ["now", "--from", ".", "--rule", "two"],
        ["now", "--from", ".", "--time-zone", "Europe/Atlantis"],
        ["now", "--from", ".", "--day-starts", "25:00"],
        ["sing"],
    ],
)
def test_a_command_used_wrongly_leaves_with_2(
    wrong: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, *wrong)
    assert (code, out) == (2, "")
    assert "Error" in err


def test_an_empty_folder_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = now(capsys, tmp_path)
    assert code == 3
    assert "pool.csv" in err


def test_a_card_tells_its_history(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal = Journal().shot().copied_to("RAID")
    journal.say("10:30", "copy_started", drive="SHUTTLE")
    target = json.loads(journal.lines[-1])["id"]
    journal.say("10:31", "voided", target=target, reason="wrong card")
    keep(folder, journal)
    code, out, _ = run(
        capsys, "card", "S-014", "--from", str(folder), "--rule", TWO_COPIES,
        "--time-zone", "Europe/Helsinki",
    )  # fmt: skip
    assert code == 0
    assert "2026-03-02 08:00  Loaded into camera A as A001 and formatted there." in out
    assert "Copies: RAID (checksummed)" in out
    assert "Copy of what was on it to SHUTTLE started.  (taken back)" in out


def test_a_label_that_nobody_knows_is_answered_with_the_nearest(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = run(capsys, "card", "S-O14", "--from", str(folder))
    assert code == 2
    assert "S-014" in err


def test_the_demo_is_ready_in_one_step(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "demo", "--to", str(tmp_path / "demo"))
    assert code == 0
    assert "Danger: 1" in out
    assert (tmp_path / "demo" / "pool.csv").exists()
