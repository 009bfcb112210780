"""Opening a database, writing to it from many sides at once, and what cannot be opened."""

from __future__ import annotations

import ast
import os
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, func, insert, select, text, update
from sqlalchemy.exc import DBAPIError, IntegrityError

from tracker.store import engine, migrate
from tracker.store.engine import CannotOpen, Store, file_system_of, journal_mode_for, open_store
from tracker.store.tables import Chain, Subject

ROOT = Path(__file__).parents[2]
NOBODY = 65534


def add(connection: Connection, name: str) -> None:
    connection.execute(insert(Subject).values(id=name, kind="card"))


def count(connection: Connection) -> int:
    return connection.scalars(select(func.count()).select_from(Subject)).one()


def counted(store: Store) -> int:
    with store.reading() as connection:
        return count(connection)


def add_alone(store: Store, name: str) -> None:
    with store.writing() as connection:
        add(connection, name)


def pragma(connection: Connection, name: str) -> Any:
    return connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()


# One transaction


def test_what_was_written_is_there_afterwards(store: Store) -> None:
    add_alone(store, "one")
    assert counted(store) == 1


def test_a_block_that_raises_leaves_nothing(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.writing() as connection:
        add(connection, "one")
        raise ZeroDivisionError
    assert counted(store) == 0


def test_an_interrupted_block_leaves_nothing_and_the_store_goes_on(store: Store) -> None:
    with pytest.raises(KeyboardInterrupt), store.writing() as connection:
        add(connection, "one")
        raise KeyboardInterrupt
    add_alone(store, "two")
    assert counted(store) == 1


def test_a_part_can_be_taken_back_and_the_rest_stays(store: Store) -> None:
    with store.writing() as connection:
        add(connection, "one")
        with pytest.raises(IntegrityError), connection.begin_nested():
            add(connection, "two")
            add(connection, "one")
    assert counted(store) == 1


@pytest.mark.parametrize("inner", ["writing", "reading"])
@pytest.mark.parametrize("outer", ["writing", "reading"])
def test_a_thread_has_one_transaction_at_a_time(store: Store, outer: str, inner: str) -> None:
    with (
        getattr(store, outer)(),
        pytest.raises(RuntimeError, match=rf"{inner}\(\) inside {outer}\(\)"),
        getattr(store, inner)(),
    ):
        pass
    add_alone(store, "one")
    assert counted(store) == 1


def test_what_points_nowhere_is_refused(store: Store) -> None:
    with pytest.raises(IntegrityError), store.writing() as connection:
        connection.execute(insert(Chain).values(subject="?", origin="o", head="", count=0))


def test_a_writing_transaction_is_immediate_from_its_first_moment(
    new_store: Callable[..., Store],
) -> None:
    store = new_store("sqlite")
    sent: list[str] = []
    with store.writing() as connection:
        connection.connection.driver_connection.set_trace_callback(sent.append)  # type: ignore
    sent.clear()
    with store.writing() as connection:
        assert sent == ["BEGIN IMMEDIATE"]
        add(connection, "one")
    assert sent[-1] == "COMMIT"


def test_a_transaction_on_postgresql_is_isolated_as_promised(
    new_store: Callable[..., Store],
) -> None:
    store = new_store("postgresql")
    with store.writing() as connection:
        assert connection.scalar(text("SHOW transaction_isolation")) == "read committed"
        assert connection.scalar(text("SHOW transaction_read_only")) == "off"
    with store.reading() as connection:
        assert connection.scalar(text("SHOW transaction_isolation")) == "repeatable read"
        assert connection.scalar(text("SHOW transaction_read_only")) == "on"


def test_commits_are_on_disk_whatever_the_server_was_told(
    postgres_url: Callable[..., str],
) -> None:
    url = postgres_url()
    store = open_store(url)
    with store.writing() as connection:
        connection.execute(
            text(f"ALTER DATABASE {connection.engine.url.database} SET synchronous_commit = off")
        )
    store.close()
    store = open_store(url)
    with store.writing() as connection:
        assert connection.scalar(text("SHOW synchronous_commit")) == "on"
    store.close()


def test_sqlite_is_set_up_to_keep_what_it_was_given(new_store: Callable[..., Store]) -> None:
    store = new_store("sqlite")
    full, extra = 2, 3
    for door, query_only in (("writing", 0), ("reading", 1)):
        with getattr(store, door)() as connection:
            assert pragma(connection, "journal_mode") == store.journal_mode
            assert pragma(connection, "synchronous") == (
                full if store.journal_mode == "wal" else extra
            )
            assert pragma(connection, "foreign_keys") == 1
            assert pragma(connection, "recursive_triggers") == 1
            assert pragma(connection, "busy_timeout") == 15_000
            assert pragma(connection, "query_only") == query_only


def test_the_store_says_what_it_stands_on(store: Store) -> None:
    named = {"sqlite": "SQLite 3.", "postgresql": "PostgreSQL "}
    assert store.library.startswith(named[store.dialect])
    assert store.journal_mode is None or f"journal mode {store.journal_mode}" in store.library


# Many at once


def test_twenty_writers_lose_nothing(store: Store) -> None:
    each, writers = 10, 20
    add_alone(store, "all")
    with store.writing() as connection:
        connection.execute(insert(Chain).values(subject="all", origin="o", head="", count=0))
    start = threading.Barrier(writers)

    def write(_: int) -> None:
        start.wait()
        for _ in range(each):
            with store.writing() as connection:
                had = connection.scalars(select(Chain.count).with_for_update()).one()
                connection.execute(update(Chain).values(count=had + 1))

    with ThreadPoolExecutor(writers) as threads:
        list(threads.map(write, range(writers)))
    with store.reading() as connection:
        assert connection.scalars(select(Chain.count)).one() == each * writers


def test_a_reader_sees_what_was_there_before_the_writer_and_does_not_wait(store: Store) -> None:
    with ThreadPoolExecutor(1) as reader, store.writing() as connection:
        add(connection, "one")
        assert reader.submit(counted, store).result() == 0
    assert counted(store) == 1


def test_a_page_is_one_snapshot(store: Store) -> None:
    if store.journal_mode == "delete":
        pytest.skip("in journal mode delete a writer waits for the readers")
    with ThreadPoolExecutor(1) as writer, store.reading() as connection:
        assert count(connection) == 0
        writer.submit(add_alone, store, "one").result()
        assert count(connection) == 0
    assert counted(store) == 1


def test_a_reader_cannot_write(store: Store) -> None:
    with pytest.raises(DBAPIError), store.reading() as connection:
        add(connection, "one")
    assert counted(store) == 0


# Killed

KILLED = """
import sys
from sqlalchemy import insert
from tracker.store.engine import open_store
from tracker.store.tables import Subject

store = open_store(sys.argv[1])
with store.writing() as connection:
    connection.execute(insert(Subject).values(id="kept", kind="card"))
with store.writing() as connection:
    connection.execute(insert(Subject).values(id="lost", kind="card"))
    print("written", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def migrated_url(dialect: str, postgres_url: Callable[..., str], tmp_path: Path) -> str:
    if dialect == "postgresql":
        return postgres_url()
    url = f"sqlite:///{tmp_path / 'killed.db'}"
    store = open_store(url)
    migrate.upgrade(store)
    store.close()
    return url


def test_a_killed_transaction_leaves_nothing_and_the_one_before_stays(migrated_url: str) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", KILLED, migrated_url],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "written\n"
        process.send_signal(signal.SIGKILL)
    store = open_store(migrated_url)
    with store.reading() as connection:
        assert connection.scalars(select(Subject.id)).all() == ["kept"]
    add_alone(store, "next")
    store.close()


# The library


@pytest.mark.parametrize(
    ("version", "mode"),
    [((3, 40, 1), "delete"), ((3, 51, 2), "delete"), ((3, 51, 3), "wal"), ((3, 53, 4), "wal")],
)
def test_wal_only_where_the_library_is_safe(version: tuple[int, int, int], mode: str) -> None:
    assert journal_mode_for(version) == mode


PYTHONS_OWN = """
import sys
sys.modules["pysqlite3"] = None  # as if it were not installed
from tracker.store import engine, migrate

store = engine.open_store(sys.argv[1])
migrate.upgrade(store)
print(store.journal_mode, engine.journal_mode_for(engine.sqlite.sqlite_version_info))
print(store.library)
store.close()
"""


def test_python_s_own_library_does_too(tmp_path: Path) -> None:
    file = tmp_path / "store.db"
    own = [sys.executable, "-W", "error", "-c", PYTHONS_OWN, f"sqlite:///{file}"]
    said = subprocess.run(own, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    modes, library = said.splitlines()
    assert len(set(modes.split())) == 1
    assert "from Python itself" in library
    store = open_store(file)
    assert migrate.is_current(store)
    store.close()
    # And back: the mode that the other library chose is taken off the file again.
    assert subprocess.run(own, cwd=ROOT, capture_output=True, text=True, check=True).stdout == said


def test_no_test_and_no_migration_opens_sqlite_by_itself() -> None:
    for file in [*(ROOT / "tests").rglob("*.py"), *(ROOT / "migrations").rglob("*.py")]:
        for node in ast.walk(ast.parse(file.read_text())):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            roots = {name.split(".")[0] for name in names}
            assert not roots & {"sqlite3", "pysqlite3"}, file
            assert file.is_relative_to(ROOT / "tests") or "tracker" not in roots, file


# What cannot be opened


def refusal(url: str | Path) -> str:
    with pytest.raises(CannotOpen) as refused:
        open_store(url)
    assert refused.value.__cause__ is None
    return str(refused.value)


def test_a_missing_folder(tmp_path: Path) -> None:
    said = refusal(tmp_path / "none" / "store.db")
    assert said.endswith(f"there is no folder {tmp_path / 'none'}; make it, or give another")


def test_a_folder_in_place_of_a_file(tmp_path: Path) -> None:
    assert "it is not a file" in refusal(tmp_path)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that other users can reach; pytest's own are closed to them."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name).resolve()
        folder.chmod(0o755)
        yield folder
        folder.chmod(0o755)


@pytest.fixture
def ordinary_user() -> Iterator[None]:
    """Root may write everywhere: be somebody else for a while."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    yield
    os.seteuid(0)


def test_a_folder_that_may_not_be_written(open_folder: Path, ordinary_user: None) -> None:
    if os.getuid() != 0:
        open_folder.chmod(0o555)
    said = refusal(open_folder / "store.db")
    assert f"nothing can be written into {open_folder} (Permission denied)" in said


def test_a_file_that_may_not_be_written(open_folder: Path, request: pytest.FixtureRequest) -> None:
    file = open_folder / "store.db"
    open_store(file).close()
    file.chmod(0o444)
    open_folder.chmod(0o777)
    request.getfixturevalue("ordinary_user")
    assert "this user may not read and write it" in refusal(file)


def test_a_file_that_is_no_database(tmp_path: Path) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("A001 is on the shelf. " * 100)
    said = refusal(file)
    assert "file is not a database" in said
    assert "give the file that Cardwright made" in said
    assert file.read_text().startswith("A001")


def test_a_database_of_a_newer_version(store: Store) -> None:
    with store.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
        address = connection.engine.url
    store.close()
    said = refusal(address.render_as_string(hide_password=False))
    assert "a newer Cardwright wrote it (revision 9999; the newest known here is" in said
    assert "install that version or a newer one" in said


def test_a_network_file_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/vda / ext4 rw 0 0\nnas:/shoot {tmp_path} nfs4 rw 0 0\n")
    monkeypatch.setattr(engine, "MOUNTS", mounts)
    said = refusal(tmp_path / "store.db")
    assert "it is on a network file system (nfs4)" in said
    assert "put it on a disk of this computer, or use PostgreSQL" in said


@pytest.mark.parametrize("kind", ["cifs", "smb3", "fuse.sshfs", "fuse.ceph-fuse", "afs"])
def test_every_network_file_system(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setattr(engine, "file_system_of", lambda folder: kind)
    assert kind in refusal(tmp_path / "store.db")


def test_the_innermost_mount_counts_and_the_last_one_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mounts = tmp_path / "mounts"
    monkeypatch.setattr(engine, "MOUNTS", mounts)
    assert file_system_of(Path("/anywhere")) is None
    mounts.write_text(
        "d / ext4 rw 0 0\nd /media/two\\040words nfs rw 0 0\nd /media cifs rw 0 0\n"
        "d /media xfs rw 0 0\n"
    )
    assert file_system_of(Path("/media/two words/a")) == "nfs"
    assert file_system_of(Path("/media/two")) == "xfs"
    assert file_system_of(Path("/mediaeval")) == "ext4"


@pytest.mark.parametrize(
    "url", ["store.db", "sqlite://", "sqlite:///:memory:", "mysql://user@host/name"]
)
def test_an_address_of_something_else(url: str) -> None:
    assert "give sqlite:////folder/file.db or postgresql://user@host/name" in refusal(url)


def test_a_server_that_is_not_there_and_no_password_in_the_message(tmp_path: Path) -> None:
    said = refusal(f"postgresql://dit:hush@/shoot?host={tmp_path}")
    assert "see that it is there and works" in said
    assert "hush" not in said


def test_a_database_that_is_not_there(postgres_url: Callable[..., str]) -> None:
    said = refusal(postgres_url().replace("/test_", "/untold_"))
    assert "does not exist" in said
