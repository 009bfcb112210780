"""The tables come and go by migrations, on both databases, and the journal guards itself."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.util import CommandError
from sqlalchemy import Column, Connection, MetaData, func, insert, inspect, select, text
from sqlalchemy.exc import IntegrityError

from tracker.store import kept_tables, migrate, people_tables, purchase_tables, reminder_tables
from tracker.store.engine import Store, open_store

# From here, so that the tables of the people, the reminders, the purchases and what is kept are
# among them.
assert people_tables.Base is kept_tables.Base is reminder_tables.Base is purchase_tables.Base
Base = people_tables.Base

ROWS = 3


@pytest.fixture
def empty(dialect: str, new_store: Callable[..., Store]) -> Store:
    """A database in which nothing was ever made."""
    return new_store(dialect, migrated=False)


# Whatever the tables of a revision are, a few rows for each


def value(column: Column[Any], n: int) -> Any:
    kind = column.type.python_type
    # The same text in every table, so that each row finds the rows that it points to.
    made = {str: f"row {n}", bytes: b"\x00\xff%d" % n, bool: n % 2 == 0, dict: {"note": f"ä {n}"}}
    return made.get(kind, n)


def tables(connection: Connection) -> MetaData:
    metadata = MetaData()
    metadata.reflect(connection)
    metadata.remove(metadata.tables["alembic_version"])
    return metadata


def fill(store: Store, first: int) -> None:
    with store.writing() as connection:
        for table in tables(connection).sorted_tables:
            for n in range(first, first + ROWS):
                row = {column.name: value(column, n) for column in table.columns}
                connection.execute(insert(table).values(row))


def filled(store: Store) -> dict[str, int]:
    with store.reading() as connection:
        return {
            table.name: connection.scalars(select(func.count()).select_from(table)).one()
            for table in tables(connection).sorted_tables
        }


def left_over(store: Store) -> list[str]:
    """What is there besides the mark of the revision: tables, triggers, functions."""
    of = {
        "sqlite": "SELECT name FROM sqlite_schema WHERE tbl_name <> 'alembic_version'",
        "postgresql": "SELECT relname FROM pg_class WHERE relnamespace = 'public'::regnamespace"
        " AND relname NOT LIKE 'alembic_version%'"
        " UNION SELECT proname FROM pg_proc WHERE pronamespace = 'public'::regnamespace"
        " UNION SELECT tgname FROM pg_trigger",
    }
    with store.reading() as connection:
        return list(connection.scalars(text(of[store.dialect])))


# Up and down


def test_a_new_database_has_no_revision_and_an_upgraded_one_the_newest(empty: Store) -> None:
    assert migrate.current(empty) is None
    assert not migrate.is_current(empty)
    migrate.upgrade(empty)
    assert migrate.current(empty) == migrate.head()
    assert migrate.is_current(empty)


def test_every_revision_keeps_the_rows_and_the_guards(empty: Store) -> None:
    for step, revision in enumerate(migrate.known()):
        migrate.upgrade(empty, revision)
        kept = filled(empty)
        assert kept["journal"] == step * ROWS
        fill(empty, first=step * ROWS)
        assert set(filled(empty).values()) <= {(n + 1) * ROWS for n in range(step + 1)}
        try_the_guards(empty)


def test_down_to_nothing_and_up_again_with_rows_in_every_table(empty: Store) -> None:
    migrate.upgrade(empty)
    fill(empty, first=0)
    assert set(filled(empty)) == set(Base.metadata.tables)
    migrate.downgrade(empty, "base")
    assert left_over(empty) == []
    assert migrate.current(empty) is None
    migrate.upgrade(empty)
    assert set(filled(empty).values()) == {0}
    fill(empty, first=0)
    try_the_guards(empty)


def test_each_revision_goes_down_by_itself(empty: Store) -> None:
    migrate.upgrade(empty)
    for revision in [*migrate.known()[-2::-1], "base"]:
        migrate.downgrade(empty, revision)
        assert migrate.current(empty) == (None if revision == "base" else revision)


def test_an_upgrade_that_fails_leaves_everything_as_it_was(empty: Store) -> None:
    with empty.writing() as connection:
        connection.execute(text("CREATE TABLE roll (id INTEGER)"))
    with pytest.raises(Exception, match="roll"):
        migrate.upgrade(empty)
    assert left_over(empty) == ["roll"]
    assert migrate.current(empty) is None


def test_upgrading_twice_is_upgrading_once(store: Store) -> None:
    fill(store, first=0)
    migrate.upgrade(store)
    assert set(filled(store).values()) == {ROWS}


def test_two_that_start_at_once_do_not_trip_over_each_other(
    dialect: str, new_store: Callable[..., Store]
) -> None:
    first = new_store(dialect, migrated=False)
    with first.reading() as connection:
        second = open_store(connection.engine.url.render_as_string(hide_password=False))
    with ThreadPoolExecutor(2) as threads:
        list(threads.map(migrate.upgrade, [first, second]))
    second.close()
    assert migrate.is_current(first)


def test_a_revision_that_nobody_knows(store: Store) -> None:
    with pytest.raises(CommandError, match="nonsense"):
        migrate.downgrade(store, "nonsense")
    assert migrate.is_current(store)


def test_both_databases_come_to_the_same_revision(each_store: list[Store]) -> None:
    assert [migrate.current(store) for store in each_store] == [migrate.head()] * 2


# No drift


def test_nothing_is_left_to_migrate(store: Store) -> None:
    with store.reading() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, Base.metadata) == []


def shape(store: Store) -> dict[str, Any]:
    """All that the database knows of its tables, with collations and the names of constraints."""
    with store.reading() as connection:
        found = inspect(connection)
        return {
            table: {
                "columns": sorted(
                    (
                        {**column, "type": repr(column["type"])}
                        for column in found.get_columns(table)
                    ),
                    key=lambda column: column["name"],
                ),
                "key": found.get_pk_constraint(table),
                "foreign": found.get_foreign_keys(table),
                "unique": found.get_unique_constraints(table),
                "checks": found.get_check_constraints(table),
                "indexes": found.get_indexes(table),
            }
            for table in found.get_table_names()
            if table != "alembic_version"
        }


def test_migrations_make_what_the_tables_describe(store: Store, empty: Store) -> None:
    with empty.writing() as connection:
        Base.metadata.create_all(connection)
    described = shape(empty)
    assert shape(store) == described
    assert described.keys() == Base.metadata.tables.keys()


# The journal guards itself

REFUSED = [
    "UPDATE journal SET event = 'nothing'",
    "UPDATE journal SET seq = seq + 100",
    "DELETE FROM journal",
    "DELETE FROM journal WHERE fact_id = 'row 1'",
    "INSERT INTO journal SELECT * FROM journal WHERE true"
    " ON CONFLICT (fact_id) DO UPDATE SET event = 'nothing'",
    "DELETE FROM words",
    "UPDATE words SET said = '{}'",
    "UPDATE words SET salt = 'pepper'",
    "UPDATE words SET said = NULL, salt = 'pepper'",
    "UPDATE words SET said = NULL, fact_id = 'another'",
]
REFUSED_ON = {
    "sqlite": [
        "REPLACE INTO journal SELECT * FROM journal",
        "REPLACE INTO words SELECT * FROM words",
        "UPDATE OR IGNORE journal SET event = 'nothing'",
    ],
    "postgresql": ["TRUNCATE journal", "TRUNCATE words", "TRUNCATE subject CASCADE"],
}


def everything(store: Store) -> list[Any]:
    with store.reading() as connection:
        return [
            sorted(map(repr, connection.execute(text(f"SELECT * FROM {table}"))))
            for table in ("journal", "words")
        ]


def try_the_guards(store: Store) -> None:
    before = everything(store)
    assert all(before)
    for statement in REFUSED + REFUSED_ON[store.dialect]:
        with pytest.raises(IntegrityError, match="only ever"), store.writing() as connection:
            connection.execute(text(statement))
        assert everything(store) == before, statement


def test_words_are_erased_and_stay_erased(store: Store) -> None:
    fill(store, first=0)
    with store.writing() as connection:
        connection.execute(text("UPDATE words SET said = NULL WHERE fact_id = 'row 1'"))
    with store.reading() as connection:
        said = connection.execute(text("SELECT fact_id, said IS NULL FROM words ORDER BY 1")).all()
    assert [(name, bool(gone)) for name, gone in said] == [
        ("row 0", False),
        ("row 1", True),
        ("row 2", False),
    ]
    with pytest.raises(IntegrityError, match="only ever"), store.writing() as connection:
        connection.execute(text("UPDATE words SET said = '{}' WHERE fact_id = 'row 1'"))
