"""Whether a copy of a database holds what it should, and bringing an older one up to date."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, select
from sqlalchemy.exc import DBAPIError

from tracker.domain.errors import CardwrightError
from tracker.domain.fold import FOLD_VERSION
from tracker.services.auditing import rebuild
from tracker.services.looking import now_for_programs
from tracker.services.service import Service
from tracker.store import migrate
from tracker.store import tables as t
from tracker.store.audit import verify_chains
from tracker.store.checkpoints import checkpoint_of, heads_of
from tracker.store.copying import counts_of, faults_in
from tracker.store.engine import CannotOpen, SqliteError, Store, open_store
from tracker.wire.canonical import digest
from tracker.wire.checkpoint import Checkpoint


@dataclass(frozen=True, slots=True)
class Contents:
    """What a database holds: the revision of its tables, rows by table, the heads of all chains."""

    revision: str
    counts: dict[str, int]
    checkpoint: Checkpoint


Fail = Callable[[str], CardwrightError]
"""Makes the error to be raised from what was found."""


@contextmanager
def opened_copy(address: str | Path, fail: Fail) -> Iterator[Store]:
    """A store on a copy, which nobody else has. What the database says becomes a refusal."""
    try:
        store = open_store(address)
    except CannotOpen as error:
        raise fail(error.found) from None
    try:
        yield store
    except (DBAPIError, SqliteError) as error:
        cause = error.orig if isinstance(error, DBAPIError) else error
        raise fail(" ".join(str(cause).split())) from None
    finally:
        store.close()


def whole(conn: Connection, at: datetime, fail: Fail) -> Contents:
    """What a database holds, once it was looked through and every chain was verified."""
    faults = faults_in(conn)
    if faults:
        raise fail(f"the database is damaged ({'; '.join(faults)})")
    revision = migrate.current_of(conn)
    if revision is None or conn.scalar(select(t.Production.id)) is None:
        raise fail("there is no production in it")
    found = list(verify_chains(conn))
    if found:
        raise fail(f"its journal is not whole: {found[0]}")
    return Contents(revision, counts_of(conn), checkpoint_of(conn, at))


def up_to_date(store: Store, fail: Fail) -> list[str]:
    """Migrate a copy, and make its rows anew where they are folded otherwise now.

    Gives the labels of the cards whose status or mishaps are others now. The journal must be
    exactly the same afterwards, or it fails.
    """
    with store.reading() as conn:
        before = heads_of(conn)
    try:
        migrate.upgrade(store)
    except DBAPIError:
        raise
    except Exception as error:
        # Whatever a migration raises, the copy is thrown away.
        raise fail(f"it could not be migrated ({' '.join(str(error).split())})") from error
    with store.reading() as conn:
        folded = conn.scalar(select(t.Production.fold_version))
    changed = rebuild(Service(store)) if folded != FOLD_VERSION else []
    with store.reading() as conn:
        found = list(verify_chains(conn))
        if found or heads_of(conn) != before:
            raise fail(f"the migration changed the journal ({found[0] if found else 'its heads'})")
        if faults := faults_in(conn):
            raise fail(f"the migration damaged the database ({'; '.join(faults)})")
    return changed


def now_digest(store: Store) -> str:
    """The SHA-256 of what `now` says."""
    return digest(now_for_programs(Service(store)))
