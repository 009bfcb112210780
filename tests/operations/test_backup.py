"""A backup is made while people work, is verified, and comes back as it was."""

from __future__ import annotations

import stat
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from tests.operations.conftest import Pier, a_day
from tests.services.harbour import KIM, Clock, Harbour
from tracker.domain.facts import Fact
from tracker.operations import files
from tracker.operations.archive import open_backup
from tracker.operations.backup import back_up
from tracker.operations.errors import CannotBackUp, CannotRestore, InUse, NoRoom
from tracker.operations.holding import holding
from tracker.operations.restore import restore, try_restoring
from tracker.services import acts_card as cards
from tracker.services.auditing import audit
from tracker.services.erasing import erase
from tracker.services.looking import now_for_programs
from tracker.services.service import Service
from tracker.store import journal, migrate
from tracker.store.engine import Store, open_store


def everything(service: Service) -> tuple[list[Fact], dict[str, Any]]:
    with service.store.reading() as conn:
        facts = [fact for _, fact in journal.every_fact(conn)]
    return facts, now_for_programs(service)


def test_a_backup_says_what_is_in_it(pier: Pier, clock: Clock) -> None:
    made = back_up(pier.service, pier.folder / "backups")
    assert made.file.parent == pier.folder / "backups"
    assert made.file.name.startswith("cardwright-harbour-20260302-")
    with open_backup(made.file) as backup:
        manifest = backup.manifest
        assert manifest == made.manifest
    facts, _ = everything(pier.service)
    assert (manifest.production, manifest.made_at) == ("Harbour", clock.now)
    assert manifest.facts == manifest.counts["journal"] == len(facts)
    assert manifest.revision == migrate.head()
    assert manifest.counts["photo"] == 0


def test_only_its_owner_may_read_a_backup(pier: Pier) -> None:
    made = back_up(pier.service, pier.folder)
    assert stat.S_IMODE(made.file.stat().st_mode) == 0o600


def test_nothing_is_left_beside_a_backup(pier: Pier, tmp_path: Path) -> None:
    made = back_up(pier.service, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == [made.file]


def test_it_comes_back_as_it_was(pier: Pier) -> None:
    before = everything(pier.service)
    made = back_up(pier.service, pier.folder / "backups")
    a_day(pier.harbour, "S-015")
    pier.service.store.close()
    done = restore(pier.address, made.file, pier.harbour.clock)
    assert done.kept is not None
    assert done.changed == ()
    store = open_store(pier.address)
    again = Service(store, pier.harbour.clock)
    assert everything(again) == before
    assert audit(again).sound
    a_day(Harbour(again, pier.harbour.clock), "S-016")
    assert audit(again).sound
    store.close()


def test_what_it_replaces_is_kept(pier: Pier) -> None:
    made = back_up(pier.service, pier.folder / "backups")
    a_day(pier.harbour, "S-015")
    later = everything(pier.service)
    pier.service.store.close()
    done = restore(pier.address, made.file)
    assert done.kept is not None
    kept: str | Path = Path(done.kept)
    if isinstance(pier.address, str):
        kept = f"{pier.address.rsplit('/', 1)[0]}/{done.kept}?{pier.address.rsplit('?', 1)[-1]}"
    store = open_store(kept)
    assert everything(Service(store)) == later
    store.close()


def test_it_comes_back_where_nothing_was(
    pier: Pier, tmp_path: Path, postgres_url: Callable[..., str]
) -> None:
    made = back_up(pier.service, pier.folder)
    empty = tmp_path / "new" / "cardwright.db"
    address = postgres_url(migrated=False) if isinstance(pier.address, str) else empty
    done = restore(address, made.file)
    assert (done.kept is None) == isinstance(address, Path)
    store = open_store(address)
    assert everything(Service(store)) == everything(pier.service)
    store.close()


def test_a_restore_can_be_taken_back_by_another(pier: Pier) -> None:
    first = back_up(pier.service, pier.folder / "first.zip")
    a_day(pier.harbour, "S-015")
    later = everything(pier.service)
    second = back_up(pier.service, pier.folder / "second.zip")
    pier.service.store.close()
    restore(pier.address, first.file)
    restore(pier.address, second.file)
    store = open_store(pier.address)
    assert everything(Service(store)) == later
    store.close()


def test_erased_words_are_erased_in_a_backup_too(pier: Pier, tmp_path: Path) -> None:
    fact = next(one for one in pier.harbour.facts("S-014") if one.event == "noted")
    erase(pier.service, KIM, fact.id, "it was asked for")
    made = back_up(pier.service, pier.folder)
    with open_backup(made.file) as backup:
        backup.unpack(tmp_path / "inside")
    assert b"the lens was changed" not in (tmp_path / "inside").read_bytes()
    assert try_restoring(pier.service, pier.address, made.file)


# Never over another file, never half


def test_a_disk_that_is_not_plugged_in(pier: Pier, tmp_path: Path) -> None:
    with pytest.raises(CannotBackUp, match=r"there is no folder .*: see that its disk is there"):
        back_up(pier.service, tmp_path / "media" / "shuttle")
    assert not (tmp_path / "media").exists()


def test_a_name_that_is_taken(pier: Pier) -> None:
    taken = pier.folder / "mine.zip"
    taken.write_text("a report")
    with pytest.raises(CannotBackUp, match=r"mine.zip is there already; give another name"):
        back_up(pier.service, taken)
    assert taken.read_text() == "a report"


def test_two_in_one_second_have_two_names(pier: Pier) -> None:
    first, second = (back_up(pier.service, pier.folder).file for _ in range(2))
    assert second.name == f"{first.stem}-2.zip"


def test_a_full_disk_is_said_before_anything_is_written(
    pier: Pier, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if isinstance(pier.address, str):
        made = back_up(pier.service, pier.folder)
        monkeypatch.setattr(files, "free_bytes", lambda folder: 1_000_000)
        with pytest.raises(NoRoom, match="1 MB free, and"):
            restore(pier.address, made.file)
        return
    monkeypatch.setattr(files, "free_bytes", lambda folder: 1_000_000)
    with pytest.raises(NoRoom, match="1 MB free, and"):
        back_up(pier.service, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_disk_that_fills_up_leaves_nothing(
    pier: Pier, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(zipfile.ZipFile, "writestr", full)
    with pytest.raises(OSError, match="No space left"):
        back_up(pier.service, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_journal_that_is_not_whole_makes_no_backup(pier: Pier, tmp_path: Path) -> None:
    with pier.service.store.writing() as conn:
        conn.execute(text("UPDATE chain SET count = count + 1 WHERE subject = 'drive/RAID'"))
    with pytest.raises(CannotBackUp) as refused:
        back_up(pier.service, tmp_path / "out")
    assert "its journal is not whole: drive/RAID" in str(refused.value)
    assert "keep a copy of the data folder as it is" in str(refused.value)
    assert list((tmp_path / "out").iterdir()) == []


def test_without_a_production_there_is_nothing_to_back_up(
    dialect: str, new_store: Callable[..., Store], tmp_path: Path
) -> None:
    with pytest.raises(CannotBackUp, match="begin with `cardwright init`"):
        back_up(Service(new_store(dialect)), tmp_path)


# Who else works on it


def test_nothing_is_replaced_under_somebody_who_works_on_it(pier: Pier) -> None:
    made = back_up(pier.service, pier.folder)
    before = everything(pier.service)
    if isinstance(pier.address, Path):
        with holding(pier.address), pytest.raises(InUse, match="stop it"):
            restore(pier.address, made.file)
    else:
        with (
            pier.service.store.reading() as _,
            pytest.raises(CannotRestore, match="being accessed by other users"),
        ):
            restore(pier.address, made.file)
    assert everything(pier.service) == before


def test_a_writer_that_holds_no_lock_is_noticed_too(pier: Pier) -> None:
    """As a tool for databases would."""
    made = back_up(pier.service, pier.folder)
    if isinstance(pier.address, str):
        return
    with pier.service.store.reading() as conn:
        conn.execute(text("SELECT 1 FROM journal LIMIT 1"))
        with pytest.raises(CannotRestore, match="stop whatever has it open"):
            restore(pier.address, made.file)
    cards.note(pier.service, KIM, "S-014", "still here")


# Older and newer


@pytest.mark.parametrize("revision", migrate.known()[:-1])
def test_a_backup_of_each_version_before_is_brought_up_to_date(pier: Pier, revision: str) -> None:
    facts, _ = everything(pier.service)
    migrate.downgrade(pier.service.store, revision)
    made = back_up(pier.service, pier.folder / "backups")
    assert made.manifest.revision == revision
    pier.service.store.close()
    restore(pier.address, made.file)
    store = open_store(pier.address)
    assert migrate.is_current(store)
    assert everything(Service(store))[0] == facts
    assert audit(Service(store)).sound
    store.close()


def test_a_backup_from_before_the_rows_were_folded_so(pier: Pier) -> None:
    with pier.service.store.writing() as conn:
        conn.execute(text("UPDATE production SET fold_version = 0"))
        conn.execute(text("UPDATE card SET status = 'ready' WHERE label = 'S-014'"))
    made = back_up(pier.service, pier.folder / "backups")
    pier.service.store.close()
    assert restore(pier.address, made.file).changed == ("S-014",)
    store = open_store(pier.address)
    assert audit(Service(store)).sound
    store.close()


# The restore test


def test_a_restore_test_compares_everything(pier: Pier) -> None:
    made = back_up(pier.service, pier.folder)
    tried = try_restoring(pier.service, pier.address, made.file)
    assert tried.manifest == made.manifest
    assert tried.compared[-1] == "`now` with the data in use"
    assert sorted(p.name for p in pier.folder.iterdir() if p.name.startswith(".")) == []


def test_a_restore_test_after_more_was_logged(pier: Pier) -> None:
    made = back_up(pier.service, pier.folder)
    a_day(pier.harbour, "S-015")
    tried = try_restoring(pier.service, pier.address, made.file)
    assert tried.compared[-1] == "the journal in use, which goes on from it"


def test_a_restore_test_changes_nothing(pier: Pier) -> None:
    made = back_up(pier.service, pier.folder)
    before = everything(pier.service)
    try_restoring(pier.service, pier.address, made.file)
    assert everything(pier.service) == before
