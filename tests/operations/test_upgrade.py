"""Data of an older version: a copy is migrated and takes over; whatever fails, nothing changes."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from tests.operations.conftest import a_day
from tests.services.harbour import FIRST_DAY, Clock, begin
from tracker.bootstrap import opened
from tracker.cli.main import main
from tracker.config import Setting, Settings
from tracker.operations import files, holding, upgrade, verifying
from tracker.operations.errors import CannotUpgrade, InUse, NoRoom
from tracker.operations.notes import last
from tracker.operations.verifying import Contents, whole
from tracker.services.auditing import audit
from tracker.services.looking import now_for_programs
from tracker.store import migrate
from tracker.store.engine import open_store

ROOT = Path(__file__).parents[2]
OLD = "0002"
FILE = "cardwright.db"


@pytest.fixture
def old(tmp_path: Path, sqlite_template: Path) -> Path:
    """The data folder of a production that an older version wrote."""
    folder = tmp_path / "data"
    folder.mkdir()
    shutil.copy(sqlite_template, folder / FILE)
    with closing(open_store(folder / FILE)) as store:
        a_day(begin(store, Clock()))
        migrate.downgrade(store, OLD)
    return folder


def given(folder: Path) -> Settings:
    return Settings(Setting(str(folder), "a test"))


def digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


def told_by(file: Path) -> tuple[str | None, Contents]:
    """The revision, and all that is in it."""
    with closing(open_store(file)) as store, store.reading() as conn:
        return migrate.current_of(conn), whole(conn, FIRST_DAY, CannotUpgrade)


def kept(folder: Path) -> list[Path]:
    return sorted(folder.glob("cardwright-before-*.db"))


def as_it_was(folder: Path) -> None:
    """The version before starts on it: its revision, and all that it wrote."""
    assert kept(folder) == []
    assert [one for one in folder.iterdir() if one.name.startswith(".")] == []
    with closing(open_store(folder / FILE)) as store:
        assert migrate.current(store) == OLD


def test_whatever_opens_it_brings_it_up_to_date(old: Path) -> None:
    with opened(given(old)) as service:
        assert migrate.is_current(service.store)
        assert audit(service).sound
        assert len(now_for_programs(service)["cards"]) == 3


def test_the_file_as_it_was_is_kept(old: Path) -> None:
    before = told_by(old / FILE)
    with opened(given(old)):
        pass
    (file,) = kept(old)
    assert file.name.startswith(f"cardwright-before-{OLD}-")
    assert told_by(file) == before
    done = last(old, "upgrade")
    assert done is not None
    assert done.says.startswith(f"From revision {OLD} to {migrate.head()}. The data as it was")


def test_what_is_of_this_version_is_left_alone(old: Path) -> None:
    for _ in range(2):
        with opened(given(old)):
            pass
    assert len(kept(old)) == 1


def test_rows_of_an_older_fold_are_made_anew(old: Path) -> None:
    with opened(given(old)) as service, service.store.writing() as conn:
        conn.execute(text("UPDATE production SET fold_version = 0"))
        conn.execute(text("UPDATE card SET status = 'ready' WHERE label = 'S-014'"))
    with opened(given(old)) as service:
        assert audit(service).sound
    done = last(old, "upgrade")
    assert done is not None
    assert done.says.endswith("Cards whose status or mishaps are others now: S-014.")


# Whatever fails


def fails_in(monkeypatch: pytest.MonkeyPatch, module: object, name: str, error: Exception) -> None:
    def fail(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(module, name, fail)


@pytest.mark.parametrize(
    ("module", "name"),
    [
        (upgrade, "copy_sqlite"),
        (upgrade, "whole"),
        (verifying.migrate, "upgrade"),
        (verifying, "rebuild"),
        (verifying, "faults_in"),
        (upgrade, "as_one_file"),
        (upgrade, "keep"),
        (upgrade, "replace"),
    ],
)
def test_a_failure_at_any_step_changes_nothing(
    old: Path, monkeypatch: pytest.MonkeyPatch, module: object, name: str
) -> None:
    if name == "rebuild":
        with closing(open_store(old / FILE)) as store, store.writing() as conn:
            conn.execute(text("UPDATE production SET fold_version = 0"))
    fails_in(monkeypatch, module, name, OSError(28, "No space left on device"))
    with pytest.raises((OSError, CannotUpgrade), match="No space left"), opened(given(old)):
        pass
    monkeypatch.undo()
    for file in kept(old):
        # A second name of the same file, given just before it was to be replaced.
        assert name == "replace"
        assert digest(file) == digest(old / FILE)
        file.unlink()
    as_it_was(old)


@pytest.mark.parametrize(
    "error", [ValueError("no such column"), OperationalError("", {}, Exception("disk I/O error"))]
)
def test_a_migration_that_fails_is_said_plainly(
    old: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    fails_in(monkeypatch, verifying.migrate, "upgrade", error)
    with pytest.raises(CannotUpgrade) as refused, opened(given(old)):
        pass
    monkeypatch.undo()
    assert str(refused.value).startswith(
        "nothing was upgraded, and the version before still starts on this data: "
    )
    as_it_was(old)


def test_a_migration_that_touches_the_journal_is_thrown_away(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def worse(store: object) -> None:
        with store.writing() as conn:  # type: ignore[attr-defined]
            conn.execute(text("UPDATE chain SET head = '0' WHERE subject = 'drive/RAID'"))

    monkeypatch.setattr(verifying.migrate, "upgrade", worse)
    with (
        pytest.raises(CannotUpgrade, match="the migration changed the journal"),
        opened(given(old)),
    ):
        pass
    monkeypatch.undo()
    as_it_was(old)


def test_a_journal_that_is_not_whole_is_not_upgraded(old: Path) -> None:
    with closing(open_store(old / FILE)) as store, store.writing() as conn:
        conn.execute(text("UPDATE chain SET count = count + 1 WHERE subject = 'drive/RAID'"))
    with (
        pytest.raises(CannotUpgrade, match="its journal is not whole: drive/RAID"),
        opened(given(old)),
    ):
        pass
    as_it_was(old)


def test_room_is_looked_for_first(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "free_bytes", lambda folder: 2_000_000)
    with (
        pytest.raises(NoRoom, match=r"2 MB free, and .* MB are needed: make room"),
        opened(given(old)),
    ):
        pass
    as_it_was(old)


def test_another_process_that_works_on_it_is_named(old: Path) -> None:
    with (
        holding.holding(old / FILE),
        holding.holding(old / FILE) as mine,
        pytest.raises(InUse, match="stop it"),
        mine.alone(patience_s=0),
    ):
        pass
    as_it_was(old)


KILLED = """
import os, signal, sys
from pathlib import Path
from tracker.operations import upgrade
from tracker.bootstrap import opened
from tracker.config import Setting, Settings

def die(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)

setattr(upgrade, sys.argv[2], die)
with opened(Settings(Setting(sys.argv[1], "a test"))):
    pass
"""


@pytest.mark.parametrize("at", ["copy_sqlite", "up_to_date", "as_one_file", "keep", "replace"])
def test_killed_at_any_step_the_next_start_works(old: Path, at: str) -> None:
    died = subprocess.run(
        [sys.executable, "-c", KILLED, str(old), at], cwd=ROOT, capture_output=True, check=False
    )
    assert died.returncode == -9, died.stderr
    with closing(open_store(old / FILE)) as store:
        assert migrate.current(store) == OLD
    with opened(given(old)) as service:
        assert audit(service).sound


def test_two_that_start_at_once(old: Path) -> None:
    start = [sys.executable, "-m", "tracker", "now", "--json", "--data", str(old)]
    both = [
        subprocess.Popen(start, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for _ in range(2)
    ]
    said = [process.communicate(timeout=60) for process in both]
    assert {process.returncode for process in both} <= {0, 1}, said
    assert len(kept(old)) == 1


# The command


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def command(*args: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            main([str(arg) for arg in args])
        told = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return left.value.code, told.out, told.err

    return command


def test_a_check_tries_it_and_changes_nothing(old: Path, run: Run) -> None:
    code, out, _ = run("upgrade", "--check", "--data", old)
    assert code == 1
    assert out.startswith(f"An upgrade would work. From revision {OLD} to {migrate.head()}.")
    as_it_was(old)


def test_the_command(old: Path, run: Run) -> None:
    assert run("upgrade", "--data", old)[1].startswith(f"From revision {OLD} to")
    assert run("upgrade", "--data", old)[1] == "The data is of this version already.\n"
    code, out, _ = run("upgrade", "--check", "--json", "--data", old)
    assert (code, json.loads(out)) == (0, {"needed": False, "upgrade": None})


def test_postgresql_migrates_in_one_transaction(
    tmp_path: Path, postgres_url: Callable[..., str], monkeypatch: pytest.MonkeyPatch, run: Run
) -> None:
    address = postgres_url()
    with closing(open_store(address)) as store:
        a_day(begin(store, Clock()))
        migrate.downgrade(store, OLD)
    monkeypatch.setenv("CARDWRIGHT_DATABASE", address)
    assert run("upgrade", "--check", "--data", tmp_path)[0] == 1
    assert run("upgrade", "--data", tmp_path)[1].startswith(f"From revision {OLD} to")
    assert run("upgrade", "--check", "--data", tmp_path)[0] == 0
    assert run("audit", "--data", tmp_path)[0] == 0
