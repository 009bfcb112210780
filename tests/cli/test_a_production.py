"""The commands on a production's own data: begun, filled from a crew's files, asked."""

import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from argon2 import PasswordHasher

from tracker.cli.main import main
from tracker.services import passphrases
from tracker.wire.codec import decode_envelope
from tracker.wire.jsonlines import read_json_facts
from tracker.wire.table import read_csv_facts

POOL = "Label,Type,Size\nS-014,2.5in SSD,1 TB\nS-015,2.5in SSD,1 TB\n"
CAMERAS = "Letter,Unit,Takes\nA,main,2.5in SSD\n"
DRIVES = "Label,Kind,Size,Place\nRAID,raid,64 TB,on set\nSHUTTLE,ssd,8 TB,on set\n"
PROOF = "5" * 64
WEEK = Path(__file__).parents[2].parent / "shared" / "inputs" / "week"

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(params=["sqlite", "postgresql"])
def run(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Run:
    """Runs a command on a data folder of its own, on each database."""
    monkeypatch.setenv("CARDWRIGHT_DATA", str(tmp_path / "data"))
    if request.param == "postgresql":
        address = request.getfixturevalue("postgres_url")(migrated=False)
        monkeypatch.setenv("CARDWRIGHT_DATABASE", address)

    def command(*args: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            main([str(arg) for arg in args])
        told = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return left.value.code, told.out, told.err

    return command


@pytest.fixture
def begun(run: Run, tmp_path: Path) -> Run:
    """A production with two cards, one camera and two drives."""
    zone = ("--time-zone", "Europe/Helsinki")
    own = ("--copies", 2, "--level", "checksummed")
    assert run("init", "--production", "The Long Pier", *zone, *own)[0] == 0
    for name, text in (("cards", POOL), ("cameras", CAMERAS), ("drives", DRIVES)):
        (tmp_path / f"{name}.csv").write_text(text)
        assert run(name, "import", tmp_path / f"{name}.csv")[0] == 0
    return run


def fact(number: int, at: str, event: str, **fields: object) -> dict[str, object]:
    subject = {} if "drive" in fields and event.startswith("drive_") else {"card": "S-014"}
    return {
        "id": f"00000000-0000-4000-8000-{number:012d}",
        "event": event,
        **subject,
        "occurred_at": f"2026-03-02T{at}:00+02:00",
        **fields,
    }


def day() -> list[dict[str, object]]:
    checked = {"level": "checksummed", "proof": PROOF}
    return [
        fact(1, "08:00", "loaded", camera="A", roll="A001", formatted=True),
        fact(2, "09:00", "pulled", bytes=480_000_000_000, clips=18),
        fact(3, "10:00", "copy_checked", drive="RAID", **checked),
        fact(4, "10:10", "copy_checked", drive="SHUTTLE", **checked),
    ]


def write(file: Path, facts: list[dict[str, object]]) -> Path:
    file.write_text("\n".join(json.dumps(one) for one in facts))
    return file


def test_a_day_is_logged_and_asked_about(begun: Run, tmp_path: Path) -> None:
    file = write(tmp_path / "monday.jsonl", day())
    assert begun("log", "--history", file)[:2] == (0, "4 facts logged.\n")
    code, out, _ = begun("now", "--json")
    card = json.loads(out)["cards"][0]
    assert (code, card["label"], card["status"]) == (0, "S-014", "backed up")
    assert "S-014" in begun("roll", "A001")[1]
    assert "A001 (S-014): checksummed" in begun("drive", "RAID")[1]
    assert "Loaded into camera A as A001" in begun("card", "S-014")[1]
    assert "Everything on it is covered: clear it." in begun("now")[1]


def test_logged_twice_it_changes_nothing(begun: Run, tmp_path: Path) -> None:
    file = write(tmp_path / "monday.jsonl", day())
    begun("log", "--history", file)
    before = begun("now", "--json")
    assert begun("log", "--history", file)[1].startswith("0 facts logged.\n4 said before")
    assert begun("now", "--json") == before


def test_a_dry_run_keeps_nothing(begun: Run, tmp_path: Path) -> None:
    file = write(tmp_path / "monday.jsonl", day())
    assert begun("log", "--history", "--dry-run", file)[1] == "4 facts would be logged.\n"
    assert json.loads(begun("now", "--json")[1])["cards"][0]["status"] == "unseen"


def test_one_bad_line_and_nothing_is_logged_and_every_bad_line_is_named(
    begun: Run, tmp_path: Path
) -> None:
    facts = [*day(), fact(5, "11:00", "copy_started", drive="RIAD")]
    facts += [fact(6, "11:05", "noted", text="?") | {"card": "S-O15"}]
    code, out, err = begun("log", "--history", write(tmp_path / "monday.jsonl", facts))
    assert (code, out) == (3, "")
    assert "monday.jsonl, line 5, drive: found 'RIAD'" in err
    assert "RAID" in err
    assert "monday.jsonl, line 6, card: found 'S-O15'" in err
    assert json.loads(begun("now", "--json")[1])["cards"][0]["status"] == "unseen"


def test_an_id_said_with_another_body_is_named(begun: Run, tmp_path: Path) -> None:
    begun("log", "--history", write(tmp_path / "monday.jsonl", day()))
    other = [day()[0] | {"camera": "B"}]
    code, _, err = begun("log", "--history", write(tmp_path / "again.jsonl", other))
    assert code == 3
    assert "again.jsonl, line 1, id: found an id said before" in err


def test_facts_come_from_csv_and_from_a_workbook(begun: Run, tmp_path: Path) -> None:
    columns = ["id", "event", "card", "occurred_at", "camera", "roll", "formatted", "bytes"]
    rows = [[str(one.get(c, "")) for c in columns] for one in day()[:2]]
    (tmp_path / "a.csv").write_text("\n".join(",".join(r) for r in [columns, rows[0]]))
    book = openpyxl.Workbook()
    book.active.append(columns)
    book.active.append(rows[1])
    book.save(tmp_path / "b.xlsx")
    code, out, err = begun("log", "--history", tmp_path / "a.csv", tmp_path / "b.xlsx")
    assert (code, out, err) == (0, "2 facts logged.\n", "")
    card = json.loads(begun("now", "--json")[1])["cards"][0]
    assert (card["status"], card["bytes_logged"]) == ("exposed", 480_000_000_000)


def test_live_clearing_asks_for_permission_and_says_what_is_wanting(
    begun: Run, tmp_path: Path
) -> None:
    begun("log", "--history", write(tmp_path / "monday.jsonl", day()[:3]))
    cleared = write(tmp_path / "clear.jsonl", [fact(9, "12:00", "cleared")])
    code, out, err = begun("log", cleared)
    assert (code, out) == (3, "")
    assert "S-014 may not be cleared" in err
    assert "roll A001 has 1 of 2 copies that count (RAID)" in err
    assert "make 1 copy more, checksummed" in err


def test_a_lost_drive_is_felt_on_the_card_and_found_again(begun: Run, tmp_path: Path) -> None:
    begun("log", "--history", write(tmp_path / "monday.jsonl", day()))
    lost = [fact(10, "11:00", "drive_lost", drive="SHUTTLE")]
    begun("log", "--history", write(tmp_path / "lost.jsonl", lost))
    told = json.loads(begun("now", "--json")[1])
    assert (told["cards"][0]["status"], told["rolls_below_rule"]) == ("exposed", ["A001"])
    back = [fact(11, "12:00", "drive_found", drive="SHUTTLE")]
    begun("log", "--history", write(tmp_path / "found.jsonl", back))
    assert json.loads(begun("now", "--json")[1])["cards"][0]["status"] == "backed up"


def test_a_list_brought_in_again_says_what_is_otherwise(begun: Run, tmp_path: Path) -> None:
    (tmp_path / "cards.csv").write_text(POOL.replace("S-015,2.5in SSD,1 TB", "S-015,CFx,2 TB"))
    code, out, _ = begun("cards", "import", tmp_path / "cards.csv")
    assert code == 0
    assert "2 said before" in out
    assert "S-015 is registered already, with another capacity_bytes, media." in out


@pytest.mark.parametrize("command", [["now"], ["card", "S-014"], ["roll", "A001"]])
def test_a_folder_without_a_production_is_said_plainly(run: Run, command: list[str]) -> None:
    code, out, err = run(*command)
    assert (code, out) == (3, "")
    assert "cardwright init" in err


def test_a_production_is_begun_once(begun: Run) -> None:
    code, _, err = begun("init", "--production", "Other", "--time-zone", "UTC")
    assert code == 3
    assert "already" in err


@pytest.mark.skipif(not WEEK.is_dir(), reason="the shared week does not lie beside the project")
def test_the_week_comes_out_exactly(run: Run) -> None:
    rule = ("--copies", 2, "--level", "checksummed", "--day-starts", "05:00")
    run("init", "--production", "Week", "--time-zone", "Europe/Helsinki", *rule)
    run("cards", "import", WEEK / "pool.csv")
    run("cameras", "import", WEEK / "cameras.csv")
    run("drives", "import", WEEK / "drives.csv")
    assert run("log", "--history", WEEK / "week.jsonl")[0] == 0
    code, out, _ = run("now", "--json")
    told = json.loads(out)
    expected = json.loads((WEEK / "expected_now.json").read_text())
    assert code == 1
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


def test_the_journal_is_proved_whole(begun: Run, tmp_path: Path) -> None:
    begun("log", "--history", write(tmp_path / "monday.jsonl", day()))
    code, out, _ = begun("audit")
    assert (code, out) == (0, "The journal is whole, and every row follows from it.\n")
    assert json.loads(begun("audit", "--json")[1])["sound"] is True
    code, out, _ = begun("audit", "--rebuild")
    assert code == 0
    assert "status or mishaps are others now: none" in out


@pytest.mark.parametrize("form", ["jsonl", "csv"])
def test_the_journal_is_taken_along(begun: Run, tmp_path: Path, form: str) -> None:
    begun("log", "--history", write(tmp_path / "monday.jsonl", day()))
    file = tmp_path / f"all.{form}"
    code, out, err = begun("export", "--form", form, "--to", file)
    assert (code, out) == (0, "")
    read = read_json_facts if form == "jsonl" else read_csv_facts
    facts = read(file.read_bytes(), file.name, decode_envelope)
    assert err == f"{len(facts)} facts written to {file}.\n"
    assert {one["id"] for one in day()} <= {fact.id for fact in facts}
    assert [fact.logged_at for fact in facts] == sorted(fact.logged_at for fact in facts)


def test_a_program_gets_a_way_in(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passphrases, "HASHER", cheap)
    _, out, _ = run("init", "--production", "The Long Pier", "--time-zone", "UTC", "--json")
    link = json.loads(out)["set_up_token"]
    words = ("--passphrase", "tide turns at noon")
    assert run("set-up", f"/set-up/{link}", "--name", "Ada", *words)[0] == 0
    code, _, err = run("set-up", link, "--name", "Bea", *words)
    assert code == 3
    assert "link" in err
    code, token, _ = run("token", "cart", "--person", "ada", "--scope", "history", "--days", 30)
    assert (code, len(token.strip())) == (0, 43)
    code, _, err = run("token", "cart", "--person", "Nobody")
    assert (code, err) == (3, "Nobody here is called Nobody.\n")


def test_a_card_probably_out_is_told_alike_from_files_and_from_rows(
    begun: Run, tmp_path: Path
) -> None:
    facts = [
        fact(1, "08:00", "loaded", camera="A", roll="A001"),
        fact(2, "09:00", "loaded", camera="A", roll="A002") | {"card": "S-015"},
    ]
    files = tmp_path / "files"
    files.mkdir()
    for name, text in (("pool", POOL), ("cameras", CAMERAS), ("drives", DRIVES)):
        (files / f"{name}.csv").write_text(text)
    begun("log", "--history", write(files / "monday.jsonl", facts))
    rows = json.loads(begun("now", "--json")[1])
    again = json.loads(
        begun(
            "now", "--json", "--from", files, "--time-zone", "Europe/Helsinki",
            "--rule", '{"copies": 2, "level": "checksummed"}',
        )[1]
    )  # fmt: skip
    assert rows == again
    first = rows["cards"][0]
    assert (first["label"], first["status"], first["may_format"]) == ("S-014", "loaded", False)
    assert "probably out" in first["next"]
