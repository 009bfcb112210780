"""Upgrades: the tables of an older version are migrated on a verified copy, which then takes over.

Whatever fails, the file stays as it was, and the version that wrote it still starts on it.
PostgreSQL migrates in place: there a migration is one transaction, all or nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import select

from tracker.domain.fold import FOLD_VERSION
from tracker.operations.errors import CannotUpgrade
from tracker.operations.files import free_name, keep, need_room, replace, scratch, size_of
from tracker.operations.holding import Held
from tracker.operations.verifying import opened_copy, up_to_date, whole
from tracker.services.service import utc_now
from tracker.store import migrate
from tracker.store import tables as t
from tracker.store.copying import as_one_file, copy_sqlite
from tracker.store.engine import SqliteError, Store, open_store

NEEDED = 3
"""How many times the size of the file must be free: the copy, migrated, and to go on with."""


@dataclass(frozen=True, slots=True)
class Upgraded:
    """From which revision, to which. kept: the file as it was; None where nothing was replaced.

    changed: labels of cards whose status or mishaps this version sees otherwise.
    """

    before: str
    after: str
    kept: Path | None
    changed: tuple[str, ...]

    def __str__(self) -> str:
        others = ", ".join(self.changed) or "none"
        kept = "" if self.kept is None else f" The data as it was is kept: {self.kept}."
        return (
            f"From revision {self.before} to {self.after}."
            f"{kept} Cards whose status or mishaps are others now: {others}."
        )


def has_production(store: Store) -> bool:
    """Whether there is a production in it, of whatever version."""
    with store.reading() as conn:
        if migrate.current_of(conn) is None:
            return False
        return conn.scalar(select(t.Production.id)) is not None


def is_needed(store: Store) -> bool:
    """Whether the tables or the rows of a production are of another version."""
    with store.reading() as conn:
        folded = conn.scalar(select(t.Production.fold_version))
        return migrate.current_of(conn) != migrate.head() or folded != FOLD_VERSION


def upgrade(address: str | Path, held: Held | None) -> Upgraded | None:
    """Upgrade the data at an address; None where another process just did.

    held: the SQLite file there. Errors: CannotUpgrade, NoRoom, InUse, OSError.
    """
    if held is not None:
        return upgrade_file(held)
    store = open_store(address)
    try:
        return upgrade_in_place(store)
    finally:
        store.close()


def upgrade_in_place(store: Store) -> Upgraded:
    """Upgrade a PostgreSQL database. Errors: CannotUpgrade, and all is as it was."""
    before = migrate.current(store) or "nothing"
    changed = up_to_date(store, CannotUpgrade)
    return Upgraded(before, migrate.head(), None, tuple(changed))


def upgrade_file(held: Held, clock: Callable[[], datetime] = utc_now) -> Upgraded | None:
    """Upgrade a SQLite file; None where another process just did.

    Errors: CannotUpgrade, NoRoom, InUse, OSError; then the file is as it was.
    """
    file = held.file
    with held.alone(), scratch(file.parent, "upgrade") as place:
        made = place / "upgraded.db"
        found = _migrated(file, made)
        if found is None:
            return None
        before, changed = found
        try:
            as_one_file(file)
        except SqliteError as error:
            said = " ".join(str(error).split())
            raise CannotUpgrade(f"{said}; stop whatever has {file} open, then try again") from None
        kept = free_name(file.parent, f"{file.stem}-before-{before}", clock(), file.suffix)
        keep(file, kept)
        made.chmod(file.stat().st_mode & 0o777)
        replace(made, file)
    return Upgraded(before, migrate.head(), kept, tuple(changed))


def try_upgrading(file: Path) -> Upgraded | None:
    """What an upgrade of a SQLite file would do, tried on a copy; None where none is needed.

    Others may go on working. Errors: CannotUpgrade, NoRoom, OSError.
    """
    with scratch(file.parent, "upgrade") as place:
        found = _migrated(file, place / "tried.db")
    return None if found is None else Upgraded(found[0], migrate.head(), None, tuple(found[1]))


def _migrated(file: Path, to: Path) -> tuple[str, list[str]] | None:
    """A copy, verified before and after it is migrated; the revision before, and cards changed."""
    store = open_store(file)
    try:
        if not is_needed(store):
            return None
        need_room(to.parent, NEEDED * size_of(file))
        copy_sqlite(store, to)
    finally:
        store.close()
    with opened_copy(to, CannotUpgrade) as copy:
        with copy.reading() as conn:
            before = whole(conn, utc_now(), CannotUpgrade).revision
        changed = up_to_date(copy, CannotUpgrade)
    as_one_file(to)
    return before, changed


def needed_at(address: str | Path) -> Upgraded | None:
    """What an upgrade of a PostgreSQL database would begin from; None where none is needed."""
    store = open_store(address)
    try:
        if not is_needed(store):
            return None
        return Upgraded(migrate.current(store) or "nothing", migrate.head(), None, ())
    finally:
        store.close()
