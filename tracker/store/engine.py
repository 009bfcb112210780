"""Opens the database: one door for writing, one for reading, on SQLite and on PostgreSQL.

    CannotOpen    the database cannot be used as it is; the message says what to do

SQLite's driver is imported here and nowhere else: two drivers on one file in one process lose
each other's locks.
"""

from __future__ import annotations

import os
import re
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError

from tracker.domain.errors import CardwrightError
from tracker.store import migrate

try:
    from pysqlite3 import dbapi2 as sqlite

    DRIVER = "the package pysqlite3"
except ImportError:
    from sqlite3 import dbapi2 as sqlite

    DRIVER = "Python itself"

MOUNTS = Path("/proc/mounts")
BUSY_TIMEOUT_S = 15
WAL_FROM = (3, 51, 3)
"""Before, a race of the checkpoint can corrupt a WAL file that several threads use (3.7.0 on)."""

NETWORK_FILE_SYSTEMS = {
    "afs", "ceph", "cifs", "davfs", "glusterfs", "lustre", "ncpfs", "nfs", "nfs4", "smb2", "smb3",
    "smbfs", "sshfs",
}  # fmt: skip

ADVICE = {
    "SQLITE_NOTADB": "give the file that Cardwright made, or a name that is not taken",
    "SQLITE_CORRUPT": "keep the file as it is, and restore the newest backup",
    "SQLITE_BUSY": "another program is using it: stop that, then try again",
    "SQLITE_FULL": "make room on that disk",
    "SQLITE_READONLY": "let this user write the file and its folder",
    "SQLITE_CANTOPEN": "let this user read and write the file and its folder",
}


CannotUse = OperationalError
"""What any statement raises where the database is well asked, and cannot do it now."""

SqliteError: type[Exception] = sqlite.Error
"""What the driver raises where SQLAlchemy is not between."""


class CannotOpen(CardwrightError):
    """A database that cannot be used as it is.

    place: which one, without a password. found: what is wrong. advice: what to do.
    """

    def __init__(self, place: object, found: str, advice: str) -> None:
        self.place = str(place)
        self.found = found
        self.advice = advice
        super().__init__(f"cannot open {place}: {found}; {advice}")


class Store:
    """An open database. A thread has one transaction at a time.

    dialect: sqlite or postgresql. journal_mode: wal or delete; None on PostgreSQL. library: one
    sentence on what keeps the data, and why in that mode.
    """

    def __init__(
        self, writer: Engine, reader: Engine, *, journal_mode: str | None, library: str
    ) -> None:
        self.dialect = writer.dialect.name
        self.journal_mode = journal_mode
        self.library = library
        self._writer = writer
        self._reader = reader
        self._lock: AbstractContextManager[Any] = (
            threading.Lock() if self.dialect == "sqlite" else nullcontext()
        )
        self._inside: dict[int, str] = {}

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: on disk when the block ends, as if it never was when that raises.

        Raises RuntimeError when this thread has a transaction already.
        """
        with self._alone("writing"), self._lock, self._writer.begin() as connection:
            yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One snapshot, that cannot be written to. RuntimeError as for `writing`."""
        with self._alone("reading"), self._reader.connect() as connection:
            # Statements that go straight to the driver would not begin one by themselves.
            connection.begin()
            yield connection

    def forget_old_rows(self, tables: Sequence[str]) -> None:
        """Do away with what is left of former rows of some tables, as far as that can be done.

        What somebody is reading at that moment is left until later. Backups are not touched.
        """
        with (
            self._alone("forget_old_rows"),
            self._lock,
            closing(self._writer.raw_connection()) as raw,
            closing(raw.cursor()) as cursor,
        ):
            if self.dialect == "sqlite":
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                return
            raw.rollback()
            driver: Any = raw.driver_connection
            driver.autocommit = True
            try:
                cursor.execute(f"VACUUM {', '.join(tables)}")
            finally:
                driver.autocommit = False

    def close(self) -> None:
        """Give back every connection. Whoever uses the store afterwards opens new ones."""
        self._writer.dispose()
        self._reader.dispose()

    @contextmanager
    def _alone(self, what: str) -> Iterator[None]:
        # By thread, not by thread-local: an abandoned block may be ended by another thread.
        thread = threading.get_ident()
        if thread in self._inside:
            raise RuntimeError(
                f"{what}() inside {self._inside[thread]}(): hand the connection on instead"
            )
        self._inside[thread] = what
        try:
            yield
        finally:
            del self._inside[thread]


def open_store(url: str | Path) -> Store:
    """The database at sqlite:////folder/file.db, at the path of a file, or at postgresql://.

    A SQLite file that is not there is made. Raises CannotOpen.
    """
    try:
        parsed = URL.create("sqlite", database=str(url)) if isinstance(url, Path) else make_url(url)
    except ArgumentError:
        raise _unknown_address(url) from None
    kind = parsed.get_backend_name()
    shown = parsed.render_as_string(hide_password=True)
    if kind == "postgresql":
        return _opened(shown, lambda: _open_postgresql(parsed.set(drivername=f"{kind}+psycopg")))
    if kind == "sqlite" and parsed.database and parsed.database != ":memory:":
        file = Path(parsed.database).resolve()
        return _opened(str(file), lambda: _open_sqlite(file))
    raise _unknown_address(shown)


def _unknown_address(found: object) -> CannotOpen:
    return CannotOpen(
        found,
        "it is the address neither of a SQLite file nor of a PostgreSQL database",
        "give sqlite:////folder/file.db or postgresql://user@host/name",
    )


def _opened(place: str, opening: Callable[[], Store]) -> Store:
    """Open, and refuse what a newer version wrote; what the driver says is said plainly."""
    try:
        store = opening()
        try:
            with store.reading() as connection:
                _refuse_newer(place, migrate.current_of(connection))
        except BaseException:
            store.close()
            raise
    except (sqlite.Error, DBAPIError) as error:
        raise CannotOpen(place, *in_words(error)) from None
    return store


def in_words(error: Exception) -> tuple[str, str]:
    """What the database said when it could not do something, and what to do about it."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    name = "_".join(getattr(cause, "sqlite_errorname", "").split("_")[:2])
    advice = ADVICE.get(name, "see that it is there and works, and that this user may use it")
    return " ".join(str(cause).split()), advice


def _refuse_newer(place: str, found: str | None) -> None:
    if found is not None and found not in migrate.known():
        raise CannotOpen(
            place,
            f"a newer Cardwright wrote it (revision {found}; the newest known here is"
            f" {migrate.head()})",
            "install that version or a newer one",
        )


def _open_sqlite(file: Path) -> Store:
    _refuse_place(file)
    wanted = journal_mode_for(sqlite.sqlite_version_info)
    with closing(sqlite.connect(file, timeout=BUSY_TIMEOUT_S)) as connection:
        (found,) = connection.execute(f"PRAGMA journal_mode={wanted}").fetchone()
    if found != wanted:
        raise CannotOpen(
            file, f"its journal mode stays {found}, where {wanted} is safe", ADVICE["SQLITE_BUSY"]
        )
    return Store(
        _sqlite_engine(file, wanted, "BEGIN IMMEDIATE", pool_size=1, max_overflow=0),
        _sqlite_engine(file, wanted, "BEGIN", pool_size=10, max_overflow=10),
        journal_mode=wanted,
        library=_sqlite_sentence(wanted),
    )


def raw_sqlite(file: Path, timeout_s: float = BUSY_TIMEOUT_S) -> Any:
    """A connection past all layers, for what is done to a file as a whole. Errors: SqliteError."""
    return sqlite.connect(file, timeout=timeout_s, isolation_level=None)


def journal_mode_for(version: tuple[int, ...]) -> str:
    """The journal mode that is safe with that version of the SQLite library: wal or delete."""
    return "wal" if version >= WAL_FROM else "delete"


def _sqlite_sentence(journal_mode: str) -> str:
    since = ".".join(map(str, WAL_FROM))
    why = (
        f"safe with several threads since {since}"
        if journal_mode == "wal"
        else f"since before {since} WAL can corrupt a file that several threads use"
    )
    return f"SQLite {sqlite.sqlite_version} from {DRIVER}, journal mode {journal_mode}: {why}."


def _sqlite_engine(file: Path, journal_mode: str, begin: str, **pool: int) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=str(file)),
        module=sqlite,
        # The driver must send no BEGIN of its own: it would be a deferred one.
        connect_args={
            "isolation_level": None,
            "timeout": BUSY_TIMEOUT_S,
            "check_same_thread": False,
        },
        **pool,
    )

    def prepare(connection: Any, _: object) -> None:
        connection.execute("PRAGMA foreign_keys=ON")
        # Without it REPLACE deletes rows past the triggers that refuse it.
        connection.execute("PRAGMA recursive_triggers=ON")
        # FULL in WAL; DELETE needs EXTRA, or a power cut brings the journal's file back.
        connection.execute(f"PRAGMA synchronous={'FULL' if journal_mode == 'wal' else 'EXTRA'}")
        # On macOS an ordinary sync stops at the disk's own cache. Elsewhere it does nothing.
        connection.execute("PRAGMA fullfsync=ON")
        if begin == "BEGIN":
            connection.execute("PRAGMA query_only=ON")

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql(begin))
    return engine


def _refuse_place(file: Path) -> None:
    """Refuse what the library would report badly.

    The file itself is never opened here: closing it would drop SQLite's locks on it.
    """
    folder = file.parent
    if not folder.is_dir():
        raise CannotOpen(file, f"there is no folder {folder}", "make it, or give another")
    if file.exists() and not file.is_file():
        raise CannotOpen(file, "it is not a file", "give the name of a file")
    kind = file_system_of(folder)
    if kind is not None and kind.removeprefix("fuse.").split("-")[0] in NETWORK_FILE_SYSTEMS:
        raise CannotOpen(
            file,
            f"it is on a network file system ({kind}), whose locks do not keep SQLite safe",
            "put it on a disk of this computer, or use PostgreSQL",
        )
    try:
        tempfile.TemporaryFile(dir=folder).close()
    except OSError as error:
        raise CannotOpen(
            file,
            f"nothing can be written into {folder} ({error.strerror})",
            "let this user write there, or give another folder",
        ) from None
    own = {"effective_ids": True} if os.access in os.supports_effective_ids else {}
    if file.exists() and not os.access(file, os.R_OK | os.W_OK, **own):
        raise CannotOpen(file, "this user may not read and write it", ADVICE["SQLITE_READONLY"])


def file_system_of(folder: Path) -> str | None:
    """The kind of file system that a folder is on, as Linux names it; None where unknown."""
    try:
        lines = MOUNTS.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return None
    found: tuple[int, str] | None = None
    for line in lines:
        _, mounted, kind, *_ = line.split(" ")
        at = Path(re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), mounted))
        # A later mount hides an earlier one at the same place.
        if folder.is_relative_to(at) and (found is None or len(at.parts) >= found[0]):
            found = (len(at.parts), kind)
    return found[1] if found else None


def _open_postgresql(url: URL) -> Store:
    def engine(**options: Any) -> Engine:
        made = create_engine(
            url, pool_size=10, max_overflow=10, pool_pre_ping=True, execution_options=options
        )
        event.listen(made, "connect", _sync_commits)
        return made

    reader = engine(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    with reader.connect() as connection:
        version = connection.exec_driver_sql("SHOW server_version").scalar_one()
    return Store(
        engine(isolation_level="READ COMMITTED"),
        reader,
        journal_mode=None,
        library=f"PostgreSQL {version}, by its own write-ahead log.",
    )


def _sync_commits(connection: Any, _: object) -> None:
    """Acknowledged is on disk, whatever the server was told for others."""
    connection.execute(
        "SELECT set_config('synchronous_commit', 'on', false)"
        " WHERE current_setting('synchronous_commit') = 'off'"
    )
    connection.commit()
