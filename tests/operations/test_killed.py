"""Killed while it makes a backup or restores one: the data is there, and the next try works."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from tests.operations.conftest import a_day
from tests.services.harbour import KIM, Clock, Harbour, begin
from tracker.operations import files
from tracker.operations.aside import aside
from tracker.operations.backup import back_up
from tracker.operations.errors import BadBackup
from tracker.operations.restore import restore, try_restoring
from tracker.services import acts_card as cards
from tracker.services.auditing import audit
from tracker.store import engine
from tracker.store.engine import open_store

ROOT = Path(__file__).parents[2]

KILLED = """
import os, signal, sys
from importlib import import_module
from tracker.cli.main import main

def die(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)

setattr(import_module(sys.argv[1]), sys.argv[2], die)
main(sys.argv[3:])
"""


@pytest.fixture
def harbour(tmp_path: Path, sqlite_template: Path) -> Harbour:
    (tmp_path / "data").mkdir()
    (tmp_path / "out").mkdir()
    shutil.copy(sqlite_template, tmp_path / "data" / "cardwright.db")
    harbour = begin(open_store(tmp_path / "data" / "cardwright.db"), Clock())
    a_day(harbour)
    return harbour


def killed(folder: Path, module: str, at: str, *command: object) -> None:
    died = subprocess.run(
        [sys.executable, "-c", KILLED, f"tracker.operations.{module}", at, *map(str, command),
         "--data", str(folder)],
        cwd=ROOT, capture_output=True, check=False,
    )  # fmt: skip
    assert died.returncode == -9, died.stderr


@pytest.mark.parametrize("at", ["copy_sqlite", "whole", "pack", "open_backup", "put"])
def test_killed_while_a_backup_is_made(harbour: Harbour, tmp_path: Path, at: str) -> None:
    killed(tmp_path / "data", "backup", at, "backup", tmp_path / "out")
    assert list((tmp_path / "out").glob("*.zip")) == []
    made = back_up(harbour.service, tmp_path / "out")
    assert try_restoring(harbour.service, tmp_path / "data" / "cardwright.db", made.file)


@pytest.mark.parametrize("at", ["up_to_date", "as_one_file", "keep", "replace"])
def test_killed_while_a_backup_is_restored(harbour: Harbour, tmp_path: Path, at: str) -> None:
    made = back_up(harbour.service, tmp_path / "out")
    a_day(harbour, "S-015")
    later = harbour.facts("S-015")
    harbour.service.store.close()
    killed(tmp_path / "data", "restore", at, "restore", made.file)
    assert harbour.facts("S-015") == later
    harbour.service.store.close()
    restore(tmp_path / "data" / "cardwright.db", made.file)
    assert harbour.facts("S-015") != later
    assert audit(harbour.service).sound


def test_what_is_left_of_a_file_that_is_gone_is_not_taken_for_a_part_of_the_new_one(
    harbour: Harbour, tmp_path: Path
) -> None:
    made = back_up(harbour.service, tmp_path / "out")
    before = harbour.facts("S-014")
    cards.note(harbour.service, KIM, "S-014", "logged since")
    file = tmp_path / "data" / "cardwright.db"
    journal = (tmp_path / "data" / "cardwright.db-wal").read_bytes()
    harbour.service.store.close()
    file.unlink()
    (tmp_path / "data" / "cardwright.db-wal").write_bytes(journal)
    restore(file, made.file)
    assert harbour.facts("S-014") == before
    assert audit(harbour.service).sound
    assert len(list((tmp_path / "data").glob("cardwright-replaced-*.db-wal"))) == 1


def test_what_a_killed_one_left_behind_is_swept_up_a_day_later(
    harbour: Harbour, tmp_path: Path
) -> None:
    left = tmp_path / "out" / ".backup-left"
    left.mkdir()
    (left / "cardwright.db").write_bytes(b"half")
    back_up(harbour.service, tmp_path / "out")
    assert left.exists()
    os.utime(left, (0, 0))
    back_up(harbour.service, tmp_path / "out")
    assert not left.exists()


def test_an_unfinished_backup_is_no_backup(harbour: Harbour, tmp_path: Path) -> None:
    made = back_up(harbour.service, tmp_path / "out").file
    data = made.read_bytes()
    for part in (0.1, 0.5, 0.9, 0.999):
        made.write_bytes(data[: int(len(data) * part)])
        with pytest.raises(BadBackup):
            restore(tmp_path / "new.db", made)


def test_a_disk_without_links(
    harbour: Harbour, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As most sticks and cards are formatted."""

    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(files.os, "link", no_links)
    made = back_up(harbour.service, tmp_path / "out" / "a.zip")
    harbour.service.store.close()
    done = restore(tmp_path / "data" / "cardwright.db", made.file)
    assert done.kept is not None
    with closing(open_store(Path(done.kept))) as store:
        assert store.dialect == "sqlite"
    taken = tmp_path / "out" / "b.zip"
    taken.write_text("mine")
    with pytest.raises(FileExistsError):
        files.put(made.file, taken)
    assert taken.read_text() == "mine"


def test_an_audit_does_not_stand_in_the_way_of_who_writes(
    harbour: Harbour, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with aside(harbour.service) as whole:
        assert whole is harbour.service
    harbour.service.store.close()
    monkeypatch.setattr(engine, "journal_mode_for", lambda version: "delete")
    with closing(open_store(tmp_path / "data" / "cardwright.db")) as store:
        slow = Harbour(type(harbour.service)(store, harbour.clock), harbour.clock)
        with aside(slow.service) as whole, whole.store.reading() as conn:
            conn.exec_driver_sql("SELECT * FROM journal").fetchone()
            a_day(slow, "S-015")
        with aside(slow.service) as whole:
            assert audit(whole).sound
    assert list((tmp_path / "data").glob(".audit-*")) == []
