"""Backups: made while the service runs, and verified before they get their name."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from tracker.domain.errors import CardwrightError
from tracker.operations import postgres
from tracker.operations.archive import DATABASES, open_backup, pack
from tracker.operations.errors import CannotBackUp
from tracker.operations.files import free_name, need_room, put, scratch, size_of
from tracker.operations.manifest import Manifest, this_version
from tracker.operations.postgres import ToolFailed
from tracker.operations.verifying import Contents, now_digest, opened_copy, whole
from tracker.services.service import Service
from tracker.store import migrate
from tracker.store import tables as t
from tracker.store.copying import as_one_file, copy_sqlite

SUFFIX = ".zip"
FOLDER = "backups"
"""Where backups go in the data folder, unless told otherwise: the same disk as the data."""


@dataclass(frozen=True, slots=True)
class Made:
    """A backup that was made. bytes: its size."""

    file: Path
    bytes: int
    manifest: Manifest


def back_up(service: Service, to: Path) -> Made:
    """Make a backup in a folder under a name of its own, or in a new file that ends in .zip.

    Errors: CannotBackUp, NoRoom, OSError; then nothing is left of it.
    """
    with service.store.reading() as conn:
        # Not the whole row: the tables may be those of a version before.
        name = None
        if migrate.current_of(conn) is not None:
            name = conn.scalar(select(t.Production.name))
    if name is None:
        raise CannotBackUp("there is no production here yet: begin with `cardwright init`")
    folder, file = _place(service, to, name)
    if not folder.is_dir():
        # To make it would be to write onto this disk where another one should be plugged in.
        raise CannotBackUp(f"there is no folder {folder}: see that its disk is there, or make it")
    with scratch(folder, "backup") as place:
        try:
            made = _make(service, place)
        except ToolFailed as error:
            raise CannotBackUp(str(error)) from None
        manifest = _read_again(made)
        size = made.stat().st_size
        try:
            put(made, file)
        except FileExistsError:
            raise CannotBackUp(f"{file} is there already; give another name") from None
    return Made(file, size, manifest)


def _place(service: Service, to: Path, name: str) -> tuple[Path, Path]:
    """The folder and the file of a new backup. Errors: CannotBackUp."""
    if to.suffix.lower() == SUFFIX and not to.is_dir():
        if to.exists():
            raise CannotBackUp(f"{to} is there already; give another name")
        return to.parent, to
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "production"
    return to, free_name(to, f"cardwright-{plain}", service.clock(), SUFFIX)


def _make(service: Service, place: Path) -> Path:
    """The archive, in a folder that nobody else looks into."""
    database = place / DATABASES[service.store.dialect]
    copying = _dumped if service.store.dialect == "postgresql" else _copied
    contents, now = copying(service, database)
    checkpoint = contents.checkpoint
    manifest = Manifest(
        made_at=checkpoint.made_at,
        made_by=this_version(),
        database=service.store.dialect,
        revision=contents.revision,
        production=checkpoint.production,
        origin=checkpoint.origin,
        facts=checkpoint.facts,
        root=checkpoint.root,
        now_sha256=now,
        counts=contents.counts,
        parts={},
    )
    made = place / f"backup{SUFFIX}"
    pack(made, manifest, checkpoint, database)
    return made


def _copied(service: Service, to: Path) -> tuple[Contents, str | None]:
    """A SQLite database, copied and verified."""
    with service.store.reading() as conn:
        need_room(to.parent, 2 * size_of(Path(str(conn.engine.url.database))))
    copy_sqlite(service.store, to)
    with opened_copy(to, CannotBackUp) as store:
        with store.reading() as conn:
            contents = whole(conn, service.clock(), _keep_it)
        now = now_digest(store) if migrate.is_current(store) else None
    as_one_file(to)
    return contents, now


def _keep_it(found: str) -> CardwrightError:
    advice = "stop the service, keep a copy of the data folder as it is, and run `audit`"
    return CannotBackUp(f"{found}; {advice}")


def _dumped(service: Service, to: Path) -> tuple[Contents, str | None]:
    """A PostgreSQL database, dumped; verified is what the dump saw."""
    with service.store.reading() as conn:
        contents = whole(conn, service.clock(), _keep_it)
        snapshot, server = _snapshot(conn)
        postgres.dump(conn.engine.url, snapshot, to, server)
    postgres.look_through(to)
    return contents, None


def _snapshot(conn: Connection) -> tuple[str, str]:
    name = conn.exec_driver_sql("SELECT pg_export_snapshot()").scalar_one()
    return str(name), str(conn.exec_driver_sql("SHOW server_version").scalar_one())


def _read_again(made: Path) -> Manifest:
    """What was written, read from the file again."""
    with open_backup(made) as backup:
        backup.look_through()
        return backup.manifest
