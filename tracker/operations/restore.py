"""Restoring a backup, and proving that one can be restored.

What comes out of a backup is verified in a scratch place first. What it replaces is kept.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import URL, Connection, make_url

from tracker.operations import postgres
from tracker.operations.archive import Backup, open_backup
from tracker.operations.errors import BadBackup, CannotRestore
from tracker.operations.files import free_name, keep, need_room, replace, scratch
from tracker.operations.holding import file_of, holding
from tracker.operations.manifest import NEWER, Manifest, this_version
from tracker.operations.postgres import ToolFailed
from tracker.operations.verifying import Fail, now_digest, opened_copy, up_to_date, whole
from tracker.services.auditing import audit
from tracker.services.service import Service, utc_now
from tracker.store import migrate
from tracker.store.checkpoints import heads_of, verify_against
from tracker.store.copying import as_one_file
from tracker.store.engine import SqliteError, Store

REPLACE = 3
"""How many times the size of the database must be free: unpacked, migrated, and to go on with."""


UNREADABLE = ("SQLITE_NOTADB", "SQLITE_CORRUPT")
"""What SQLite says of a file that it cannot make anything of."""


@dataclass(frozen=True, slots=True)
class Restored:
    """What was restored. kept: what it replaced, under its new name; None if nothing was there.

    changed: labels of cards whose status or mishaps this version sees otherwise.
    """

    manifest: Manifest
    kept: str | None
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tried:
    """A backup that was restored into a scratch place. compared: what agreed, in words."""

    manifest: Manifest
    compared: tuple[str, ...]


Clock = Callable[[], datetime]


def restore(address: str | Path, file: Path, clock: Clock = utc_now) -> Restored:
    """Put a backup in the place of the database at an address; that is kept under another name.

    Errors: BadBackup, NoRoom, InUse, CannotRestore, OSError; then all is as it was.
    """
    with open_backup(file) as backup:
        _can_be_read(backup)
        place = file_of(address)
        if place is None:
            return _restore_postgresql(backup, make_url(str(address)), clock)
        return _restore_sqlite(backup, place, clock)


def _can_be_read(backup: Backup) -> None:
    manifest = backup.manifest
    if manifest.revision not in migrate.known():
        made_by = f"Cardwright {manifest.made_by}, revision {manifest.revision}"
        raise BadBackup(backup.name, f"a newer version made it ({made_by})", NEWER)


def _restore_sqlite(backup: Backup, place: Path, clock: Clock) -> Restored:
    place.parent.mkdir(parents=True, exist_ok=True)
    with (
        holding(place) as held,
        held.alone(patience_s=1),
        scratch(place.parent, "restore") as unfinished,
    ):
        made = unfinished / "restored.db"
        changed = _unpacked(backup, made)
        kept = None
        if not place.exists():
            _set_aside(place, clock)
        else:
            _settle(place, clock)
            kept = free_name(place.parent, f"{place.stem}-replaced", clock(), place.suffix)
            keep(place, kept)
            made.chmod(kept.stat().st_mode & 0o777)
        replace(made, place)
    return Restored(backup.manifest, None if kept is None else str(kept), tuple(changed))


def _settle(place: Path, clock: Clock) -> None:
    """Bring all of what is there into its one file, if it is a database at all.

    What stands beside the file would else be taken for a part of the new one.
    """
    try:
        as_one_file(place)
    except SqliteError as error:
        if str(getattr(error, "sqlite_errorname", "")).startswith(UNREADABLE):
            _set_aside(place, clock)
            return
        said = " ".join(str(error).split())
        raise CannotRestore(
            f"{place} cannot be set aside ({said}); stop whatever has it open, then try again"
        ) from None


def _set_aside(place: Path, clock: Clock) -> None:
    for end in ("-wal", "-shm", "-journal"):
        beside = place.with_name(f"{place.name}{end}")
        if beside.exists():
            stem = f"{place.stem}-replaced"
            beside.rename(free_name(place.parent, stem, clock(), f"{place.suffix}{end}"))


def _unpacked(backup: Backup, to: Path) -> list[str]:
    """The database of a SQLite backup as a verified file of this version; see `up_to_date`."""
    with _unpacked_store(backup, to) as store:
        changed = up_to_date(store, CannotRestore)
    as_one_file(to)
    return changed


@contextmanager
def _unpacked_store(backup: Backup, to: Path) -> Iterator[Store]:
    """A store on what was in a SQLite backup, verified, and not yet migrated."""
    if backup.manifest.database != "sqlite":
        raise BadBackup(
            backup.name,
            "it is of a PostgreSQL database, and this data is a SQLite file",
            "set CARDWRIGHT_DATABASE to the address of a PostgreSQL database",
        )
    need_room(to.parent, REPLACE * backup.database_bytes)
    backup.unpack(to)
    with opened_copy(to, _failing(backup)) as store:
        _as_said(backup, store)
        yield store


def _failing(backup: Backup) -> Fail:
    return lambda found: BadBackup(backup.name, found)


def _as_said(backup: Backup, store: Store) -> None:
    """Compare an unpacked database with what its backup says of it. Errors: BadBackup."""
    manifest, fail = backup.manifest, _failing(backup)
    with store.reading() as conn:
        found = whole(conn, manifest.made_at, fail)
    if found.revision != manifest.revision:
        raise fail(f"its tables are of revision {found.revision}, not {manifest.revision}")
    if found.checkpoint != backup.checkpoint:
        raise fail("its journal is not the one that its checkpoint is of")
    if found.counts != manifest.counts:
        tables = found.counts.keys() | manifest.counts.keys()
        others = sorted(n for n in tables if found.counts.get(n) != manifest.counts.get(n))
        raise fail(f"it has not as many rows as its manifest says, in {', '.join(others)}")


# PostgreSQL


def _restore_postgresql(backup: Backup, url: URL, clock: Clock) -> Restored:
    try:
        with _loaded(backup, url) as (store, made, admin):
            changed = up_to_date(store, CannotRestore)
            store.close()
            stem = f"{url.database}_replaced_{clock().astimezone():%Y%m%d_%H%M%S}"
            kept = postgres.take_the_place(admin, made, url, stem)
    except ToolFailed as error:
        raise CannotRestore(str(error)) from None
    return Restored(backup.manifest, kept, tuple(changed))


@contextmanager
def _loaded(backup: Backup, url: URL) -> Iterator[tuple[Store, URL, Connection]]:
    """A store on what was in a PostgreSQL backup, verified, in a database of its own."""
    if backup.manifest.database != "postgresql":
        raise BadBackup(
            backup.name,
            "it is of a SQLite file, and this data is in PostgreSQL",
            "take CARDWRIGHT_DATABASE away, or restore a backup of a PostgreSQL database",
        )
    with tempfile.TemporaryDirectory() as unfinished, postgres.beside(url) as (made, admin):
        dumped = Path(unfinished) / "cardwright.dump"
        need_room(dumped.parent, backup.database_bytes)
        backup.unpack(dumped)
        try:
            postgres.load(dumped, made)
        except ToolFailed as error:
            raise BadBackup(backup.name, f"it could not be loaded ({error})") from None
        address = made.render_as_string(hide_password=False)
        with opened_copy(address, _failing(backup)) as store:
            _as_said(backup, store)
            yield store, made, admin


# Proving it


def try_restoring(service: Service, address: str | Path, file: Path) -> Tried:
    """Restore a backup into a scratch place, and compare it with what it says, and with the data.

    Errors: BadBackup with what does not agree, NoRoom, CannotRestore, OSError.
    """
    with open_backup(file) as backup:
        _can_be_read(backup)
        place = file_of(address)
        if place is None:
            try:
                with _loaded(backup, make_url(str(address))) as (store, _, _):
                    return _compared(backup, store, service)
            except ToolFailed as error:
                raise CannotRestore(str(error)) from None
        with (
            scratch(place.parent, "restore") as unfinished,
            _unpacked_store(backup, unfinished / "tried.db") as store,
        ):
            return _compared(backup, store, service)


def _compared(backup: Backup, store: Store, service: Service) -> Tried:
    """What was unpacked agrees with its own manifest already: now the rest."""
    fail, manifest = _failing(backup), backup.manifest
    compared = ["every file with its digest", "rows by table", "every chain, and every head"]
    up_to_date(store, CannotRestore)
    again = audit(Service(store))
    if not again.sound:
        first = [*again.findings, *(again.differences or ())][0]
        raise fail(f"its rows do not follow from its journal: {first}")
    compared.append("every row with the journal folded anew")
    told = now_digest(store)
    if manifest.now_sha256 is not None and manifest.made_by == this_version():
        if told != manifest.now_sha256:
            raise fail("`now` says something else than when it was made")
        compared.append("`now` with what it said then")
    with service.store.reading() as conn:
        lost = list(verify_against(conn, backup.checkpoint))
        same = heads_of(conn) == backup.checkpoint.heads
    if lost:
        advice = "one of the two was changed: keep both, and run `cardwright audit`"
        raise BadBackup(
            backup.name, f"the journal in use does not go on from it: {lost[0]}", advice
        )
    compared.append("the journal in use, which goes on from it")
    if same:
        if now_digest(service.store) != told:
            raise fail("`now` says something else than of the data in use")
        compared.append("`now` with the data in use")
    return Tried(manifest, tuple(compared))
