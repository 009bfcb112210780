"""The doctor says what keeps the data safe and what does not, and what to do."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.operations.conftest import Pier, a_day
from tests.services.harbour import Clock, begin
from tracker.cli.main import main
from tracker.config import Setting, Settings
from tracker.operations import doctor
from tracker.operations.doctor import LOOKS, Check, examine
from tracker.operations.notes import NAME, Note, add, note
from tracker.services.service import utc_now
from tracker.store import engine, migrate
from tracker.store.engine import open_store


@pytest.fixture
def given(pier: Pier) -> Settings:
    pier.folder.chmod(0o700)
    other = Setting(pier.address, "a test") if isinstance(pier.address, str) else None
    return Settings(Setting(str(pier.folder), "a test"), other)


Ask = Callable[..., Check]


@pytest.fixture
def ask(given: Settings, clock: Clock) -> Ask:
    """What the doctor says of one thing, some time later."""

    def look(name: str, *, later: timedelta = timedelta(minutes=5)) -> Check:
        return next(one for one in examine(given, clock.now + later) if one.name == name)

    return look


def verdict(check: Check) -> tuple[str, str, str]:
    return check.verdict, check.says, check.to_do


def test_a_production_in_good_health(
    pier: Pier, given: Settings, clock: Clock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "usb.zip").write_bytes(b"")
    monkeypatch.setattr(doctor, "same_disk", lambda one, other: False)
    monkeypatch.setattr(doctor, "free_bytes", lambda folder: 10**12)
    note(pier.folder, "Harbour", "backup", clock.now, file=tmp_path / "usb.zip")
    note(pier.folder, "Harbour", "restore-test", clock.now, file=tmp_path / "usb.zip")
    found = examine(given, clock.now + timedelta(minutes=5))
    assert [one for one in found if one.verdict != "fine"] == []
    assert len(found) == len(LOOKS)
    assert all(one.to_do == "" for one in found)


def test_which_library_and_why_so(ask: Ask, dialect: str) -> None:
    check = ask("database")
    assert check.verdict == "fine"
    if dialect == "sqlite":
        assert "journal mode wal: safe with several threads since 3.51.3" in check.says or (
            "since before 3.51.3 WAL can corrupt" in check.says
        )
    else:
        assert check.says.startswith("PostgreSQL ")


# The clock


def test_a_clock_that_was_set_back(ask: Ask) -> None:
    assert verdict(ask("clock", later=timedelta(days=-400))) == (
        "danger",
        "This computer's clock is 400 days behind the last fact that was logged.",
        "Set the clock; what is logged till then is late.",
    )


def test_a_clock_that_is_far_ahead_or_a_long_pause(ask: Ask) -> None:
    check = ask("clock", later=timedelta(days=45, hours=1))
    assert (check.verdict, check.to_do) == ("warning", "If that is not so, set the clock.")
    assert "45 days ago" in check.says


# The disk and its folder


def test_little_room(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "free_bytes", lambda folder: 500_000_000)
    assert ask("disk").verdict == "warning"
    assert ask("disk").says.startswith("500.0 MB free where the data lies")
    monkeypatch.setattr(doctor, "free_bytes", lambda folder: 50_000_000)
    assert ask("disk").verdict == "danger"


def test_a_network_file_system(
    ask: Ask, pier: Pier, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"nas:/shoot {pier.folder} nfs4 rw 0 0\n")
    monkeypatch.setattr(engine, "MOUNTS", mounts)
    if isinstance(pier.address, str):
        assert ask("file system").verdict == "fine"
        return
    check = ask("file system")
    assert (check.verdict, check.to_do) == ("danger", "Move it to a disk of this computer.")
    assert "(nfs4)" in check.says
    assert "network file system" in ask("database").says


def test_a_system_that_does_not_say_what_it_is(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "MOUNTS", Path("/nothing"))
    assert ask("file system").verdict in ("unknown", "fine")


def test_a_folder_that_others_may_read_or_write(ask: Ask, pier: Pier) -> None:
    pier.folder.chmod(0o755)
    check = ask("permissions")
    assert verdict(check) == (
        "warning",
        f"Every user of this computer may read {pier.folder}: it holds people's names.",
        f"Run: chmod o-rwx {pier.folder}",
    )
    pier.folder.chmod(0o777)
    assert ask("permissions").verdict == "danger"


# Backups


def test_no_backup_is_danger_and_no_test_a_warning(ask: Ask) -> None:
    assert verdict(ask("last backup")) == (
        "danger",
        "No backup is known of.",
        "Run `cardwright backup`, onto another disk.",
    )
    assert ask("last restore test").verdict == "warning"


def test_a_backup_of_the_same_disk_is_none_if_the_disk_dies(
    ask: Ask, pier: Pier, clock: Clock
) -> None:
    (pier.folder / "backups.zip").write_bytes(b"")
    note(pier.folder, "Harbour", "backup", clock.now, file=pier.folder / "backups.zip")
    check = ask("last backup")
    assert (check.verdict, check.to_do) == ("warning", "Copy it to another disk.")


def test_a_backup_that_lies_in_a_safe_is_fine_for_a_day(ask: Ask, pier: Pier, clock: Clock) -> None:
    note(pier.folder, "Harbour", "backup", clock.now, file="/media/shuttle/monday.zip")
    check = ask("last backup", later=timedelta(hours=20))
    assert check.verdict == "fine"
    assert check.says == ("20 hours ago, Harbour: /media/shuttle/monday.zip. It is not there now.")
    assert ask("last backup", later=timedelta(hours=40)).verdict == "warning"


def test_a_restore_test_that_failed_is_danger_until_one_comes_out_well(
    ask: Ask, pier: Pier, clock: Clock
) -> None:
    add(pier.folder, Note(clock.now, "restore-test", "a.zip", False, "it was changed"))
    check = ask("last restore test")
    assert (check.verdict, check.says) == ("danger", "5 minutes ago it failed: it was changed.")
    note(pier.folder, "Harbour", "restore-test", clock.now + timedelta(minutes=1), file="b.zip")
    assert ask("last restore test").verdict == "fine"
    assert ask("last restore test", later=timedelta(days=11)).verdict == "warning"


def test_lines_that_cannot_be_read_are_not_believed(ask: Ask, pier: Pier, clock: Clock) -> None:
    lines = ["", "{", '{"at": "yesterday"}', "[1]", json.dumps({"at": "2026-03-02T10:00:00"})]
    (pier.folder / NAME).write_text("\n".join(lines))
    assert ask("last backup").verdict == "danger"


def test_tools_of_postgresql(ask: Ask, dialect: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert ask("tools").verdict == "fine"
    monkeypatch.setenv("PATH", "/nothing")
    assert ask("tools").verdict == ("danger" if dialect == "postgresql" else "fine")


# What is ill


def test_a_database_of_an_older_version(ask: Ask, pier: Pier) -> None:
    migrate.downgrade(pier.service.store, "0002")
    check = ask("version")
    assert (check.verdict, check.to_do) == ("warning", "Run `cardwright upgrade --check`.")


def test_a_check_that_fails_does_not_hide_the_others(
    given: Settings, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def ill(folder: Path) -> int:
        raise OSError("the disk is gone")

    monkeypatch.setattr(doctor, "free_bytes", ill)
    found = {one.name: one for one in examine(given, clock.now)}
    assert len(found) == len(LOOKS)
    assert verdict(found["disk"]) == (
        "unknown",
        "It could not be looked at: the disk is gone.",
        "Run `audit`.",
    )


@pytest.fixture
def on_sqlite(tmp_path: Path, sqlite_template: Path) -> Path:
    folder = tmp_path / "own"
    folder.mkdir(mode=0o700)
    shutil.copy(sqlite_template, folder / "cardwright.db")
    with closing(open_store(folder / "cardwright.db")) as store:
        a_day(begin(store, Clock()))
    return folder


Run = Callable[..., tuple[int, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def command(*args: object) -> tuple[int, str]:
        with pytest.raises(SystemExit) as left:
            main(["doctor", *map(str, args)])
        told = capsys.readouterr()
        assert told.err == ""
        assert isinstance(left.value.code, int)
        return left.value.code, told.out

    return command


def test_the_command_leaves_with_one_where_there_is_danger(
    on_sqlite: Path, run: Run, tmp_path: Path
) -> None:
    code, out = run("--data", on_sqlite)
    assert code == 1
    assert "DANGER   last backup: No backup is known of.\n" in out
    note(on_sqlite, "Harbour", "backup", utc_now(), file="/media/a.zip")
    code, out = run("--data", on_sqlite, "--json")
    assert (code, json.loads(out)["danger"]) == (0, False)


@pytest.mark.parametrize("data", [b"", b"A001 is on the shelf", bytes(range(256)) * 40])
def test_a_file_that_is_no_database_of_ours(tmp_path: Path, run: Run, data: bytes) -> None:
    (tmp_path / "cardwright.db").write_bytes(data)
    code, out = run("--data", tmp_path)
    assert code == 1
    assert "DANGER" in out
    assert "Traceback" not in out


def test_where_nothing_is(tmp_path: Path, run: Run) -> None:
    code, out = run("--data", tmp_path / "nothing")
    assert code == 1
    assert out.splitlines() == [
        "DANGER   database: It cannot be opened: it is not there.",
        "         Begin with `cardwright init`.",
    ]
