"""PostgreSQL's own tools, and databases made and renamed beside the one in use."""

from __future__ import annotations

import os
import re
import secrets
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, text
from sqlalchemy.exc import DBAPIError

from tracker.domain.errors import CardwrightError

INSTALL = "install PostgreSQL's client programs of the server's version, or put them on PATH"


class ToolFailed(CardwrightError):
    """A tool of PostgreSQL is missing or did not do its work; what it said, without a password."""


def dump(url: URL, snapshot: str, to: Path, server: str) -> None:
    """Dump what a snapshot sees into a new file. server: its version. Errors: ToolFailed."""
    tool = _tool("pg_dump")
    found = _run([tool, "--version"], url)
    if _major(found) < _major(server):
        raise ToolFailed(f"{found.strip()} is older than the server ({server}): {INSTALL}")
    _run(
        [tool, "--format=custom", "--no-owner", "--no-privileges", f"--snapshot={snapshot}",
         f"--file={to}", f"--dbname={_shown(url)}"],
        url,
    )  # fmt: skip


def look_through(dumped: Path) -> None:
    """Read a dump to its end. Errors: ToolFailed."""
    _run([_tool("pg_restore"), f"--file={os.devnull}", str(dumped)], None)


def load(dumped: Path, url: URL) -> None:
    """Load a dump into an empty database, all or nothing. Errors: ToolFailed."""
    _run(
        [_tool("pg_restore"), "--single-transaction", "--exit-on-error", "--no-owner",
         "--no-privileges", f"--dbname={_shown(url)}", str(dumped)],
        url,
    )  # fmt: skip


def _tool(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise ToolFailed(f"{name} is not there: {INSTALL}")
    return found


def _run(command: list[str], url: URL | None) -> str:
    password = None if url is None else url.password
    # An argument can be read by everybody on this machine.
    env = os.environ | ({} if password is None else {"PGPASSWORD": str(password)})
    done = subprocess.run(
        command, env=env, capture_output=True, text=True, errors="replace", check=False
    )
    if done.returncode != 0:
        said = " ".join(done.stderr.split())[:300]
        raise ToolFailed(f"{Path(command[0]).name} did not do it: {said}")
    return done.stdout


def _shown(url: URL) -> str:
    return url.set(drivername="postgresql", password=None).render_as_string()


def _major(version: str) -> int:
    found = re.search(r"\d+", version)
    return int(found[0]) if found else 0


@contextmanager
def beside(url: URL) -> Iterator[tuple[URL, Connection]]:
    """An empty database beside another one, dropped afterwards unless it was renamed.

    Gives its address, and a connection that makes, renames and drops databases. Errors: ToolFailed.
    """
    name = f"{url.database}_{secrets.token_hex(4)}"
    admin = _admin(url)
    try:
        with admin.connect() as conn:
            _do(conn, f"CREATE DATABASE {_quoted(name)} TEMPLATE template0")
            try:
                yield url.set(database=name), conn
            finally:
                _do(conn, f"DROP DATABASE IF EXISTS {_quoted(name)} WITH (FORCE)")
    except DBAPIError as error:
        raise ToolFailed(_said(error)) from None
    finally:
        admin.dispose()


def take_the_place(conn: Connection, made: URL, of: URL, stem: str) -> str | None:
    """Give a database the name of another, which gets a free name that begins with `stem`.

    Gives that name; None if there was no other. Errors: ToolFailed, and both are as they were.
    """
    kept = None
    if _is_there(conn, of.database):
        names = (stem if n == 1 else f"{stem}_{n}" for n in range(1, 1000))
        kept = next(name for name in names if not _is_there(conn, name))
        _rename(conn, of.database, kept)
    try:
        _rename(conn, made.database, of.database)
    except ToolFailed:
        if kept is not None:
            _rename(conn, kept, of.database)
        raise
    return kept


def _is_there(conn: Connection, name: str | None) -> bool:
    asked = text("SELECT 1 FROM pg_database WHERE datname = :name")
    return conn.scalar(asked, {"name": name}) is not None


def _rename(conn: Connection, old: str | None, new: str | None) -> None:
    _do(conn, f"ALTER DATABASE {_quoted(old)} RENAME TO {_quoted(new)}")


def _admin(url: URL) -> Engine:
    # The database that each server has for such work.
    url = url.set(drivername="postgresql+psycopg", database="postgres")
    return create_engine(url, isolation_level="AUTOCOMMIT")


def _do(conn: Connection, statement: str) -> None:
    try:
        conn.exec_driver_sql(statement)
    except DBAPIError as error:
        raise ToolFailed(_said(error)) from None


def _said(error: DBAPIError) -> str:
    return " ".join(str(error.orig).split())[:300]


def _quoted(name: str | None) -> str:
    return '"' + str(name).replace('"', '""') + '"'


def missing_tools() -> list[str]:
    """The tools that backups need and that are not there."""
    return [name for name in ("pg_dump", "pg_restore") if shutil.which(name) is None]
