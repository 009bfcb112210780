"""A statement past the library's layers gives what it would give through them."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import bindparam, select
from sqlalchemy.exc import IntegrityError

from tracker.store import tables as t
from tracker.store.bulk import FEW, put
from tracker.store.engine import Store
from tracker.store.quick import Among, Quick
from tracker.store.rows import table

AT = datetime(2026, 3, 2, 8, 0, 0, 123456, tzinfo=UTC)
SUBJECT, WORDS, DRIVES = table(t.Subject), table(t.Words), table(t.TodaysDrive)


def subjects(count: int) -> list[dict[str, object]]:
    return [{"id": f"card {n}", "kind": "card"} for n in range(count)]


def test_values_go_in_and_come_out_by_their_types(store: Store) -> None:
    said = {"text": "ä 'quoted' %s ?"}
    with store.writing() as conn:
        put(conn, WORDS, [{"fact_id": "a", "salt": "00", "said": said}])
        put(conn, DRIVES, [{"drive": "RAID", "set_at": AT}])
    words = Quick(select(t.Words.fact_id, t.Words.said, t.Words.erased_at))
    drive = Quick(select(t.TodaysDrive).where(t.TodaysDrive.drive == bindparam("drive")))
    moved = Quick(table(t.TodaysDrive).update().values(set_at=bindparam("at")))
    with store.writing() as conn:
        assert words.all(conn) == [("a", said, None)]
        assert drive.first(conn, drive="RAID").set_at == AT
        assert drive.first(conn, drive="NAS") is None
        assert drive.scalar(conn, drive="RAID") == "RAID"
        assert moved.run(conn, at=AT.replace(hour=9)) == 1
        assert drive.first(conn, drive="RAID").set_at.hour == 9


@pytest.mark.parametrize("count", [1, FEW, FEW + 1, 3_000])
def test_rows_are_put_and_found_by_any_number_of_names(store: Store, count: int) -> None:
    some = Quick(select(t.Subject.id).where(Among(t.Subject.id, "ids")).order_by(t.Subject.id))
    rows = subjects(count)
    with store.writing() as conn:
        put(conn, SUBJECT, rows)
        put(conn, SUBJECT, [])
        found = some.all(conn, ids=[str(row["id"]) for row in rows])
        assert len(found) == count
        assert some.all(conn, ids=[]) == []
        assert [row.id for row in some.all(conn, ids=["card 0", "nothing", 'a "quoted" one'])] == [
            "card 0"
        ]


def test_its_errors_are_those_of_the_library(store: Store) -> None:
    with pytest.raises(IntegrityError), store.writing() as conn:
        put(conn, SUBJECT, subjects(1))
        put(conn, SUBJECT, subjects(1))
    with store.reading() as conn:
        assert Quick(select(t.Subject.id)).all(conn) == []


def test_what_is_undone_was_never_there(store: Store) -> None:
    every = Quick(select(t.Subject.id))
    with store.writing() as conn:
        trying = conn.begin_nested()
        put(conn, SUBJECT, subjects(2))
        assert len(every.all(conn)) == 2
        trying.rollback()
        assert every.all(conn) == []
