"""A journal that was tampered with says so, and where; rows that were changed are put right."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import Connection, delete, func, select, text, update
from sqlalchemy.exc import DBAPIError

from tests.services.harbour import GB, KIM, LEE, Harbour
from tracker.services import acts_camera as camera
from tracker.services import acts_card as cards
from tracker.services import acts_copies as copies
from tracker.services.auditing import NotWhole, audit, rebuild
from tracker.store import tables as t

DROP = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT tgname || ' ON ' || tgrelid::regclass FROM pg_trigger "
    "WHERE NOT tgisinternal",
}


@pytest.fixture
def day(harbour: Harbour) -> Harbour:
    """A card that was loaded, pulled, remarked on, handed over and copied."""
    service = harbour.service
    camera.load(service, LEE, "S-014", "A", formatted=True)
    harbour.clock.wait(60)
    camera.pull(service, LEE, "S-014", bytes_=480 * GB, clips=18)
    cards.note(service, KIM, "S-014", "the lens was changed")
    cards.hand_over(service, LEE, ["S-014"], "Kim", "cart")
    copies.copy_finished(service, KIM, "S-014", "RAID", bytes_=480 * GB, clips=18)
    assert audit(service).sound
    return harbour


def tamper(harbour: Harbour, change: Callable[[Connection], object]) -> None:
    """Change what may not be changed: first the triggers go, as one with the file could."""
    with harbour.service.store.writing() as conn:
        dialect = harbour.service.store.dialect
        for name in conn.scalars(text(DROP[dialect])).all():
            conn.execute(text(f"DROP TRIGGER {name}"))
        change(conn)


def entry(conn: Connection, event: str) -> Any:
    return conn.execute(select(t.Entry.__table__).where(t.Entry.event == event)).first()


def of(row: Any) -> Any:
    return t.Entry.fact_id == row.fact_id


def edited_body(conn: Connection) -> str:
    row = entry(conn, "pulled")
    body = row.body.replace(b"480000000000", b"580000000000")
    conn.execute(update(t.Entry).where(of(row)).values(body=body))
    return str(row.fact_id)


def edited_hash(conn: Connection) -> str:
    row = entry(conn, "pulled")
    conn.execute(update(t.Entry).where(of(row)).values(hash="0" * 64))
    return str(row.fact_id)


def moved_in_time(conn: Connection) -> str:
    row = entry(conn, "pulled")
    later = row.occurred_at + timedelta(minutes=1)
    conn.execute(update(t.Entry).where(of(row)).values(occurred_at=later))
    return str(row.fact_id)


def renamed_event(conn: Connection) -> str:
    row = entry(conn, "pulled")
    conn.execute(update(t.Entry).where(of(row)).values(event="noted"))
    return str(row.fact_id)


def left_out(conn: Connection) -> str:
    row = entry(conn, "pulled")
    conn.execute(delete(t.Words).where(t.Words.fact_id == row.fact_id))
    conn.execute(delete(t.Entry).where(of(row)))
    return f"fact {row.seq}"


def cut_tail(conn: Connection) -> str:
    row = entry(conn, "copy_finished")
    conn.execute(delete(t.Entry).where(of(row)))
    return str(row.subject)


def lost_chain(conn: Connection) -> str:
    row = entry(conn, "pulled")
    conn.execute(delete(t.Chain).where(t.Chain.subject == row.subject))
    return str(row.subject)


def reworded(conn: Connection) -> str:
    row = entry(conn, "noted")
    said = {"text": "the lens was not changed"}
    conn.execute(update(t.Words).where(t.Words.fact_id == row.fact_id).values(said=said))
    return str(row.fact_id)


@pytest.mark.parametrize(
    "change",
    [
        edited_body, edited_hash, moved_in_time, renamed_event, left_out, cut_tail, lost_chain,
        reworded,
    ],
)  # fmt: skip
def test_what_was_tampered_with_is_found_where_it_is(
    day: Harbour, change: Callable[[Connection], str]
) -> None:
    where: list[str] = []
    tamper(day, lambda conn: where.append(change(conn)))
    found = audit(day.service)
    assert not found.sound
    assert found.differences is None
    assert any(where[0] in str(finding) for finding in found.findings), found.findings
    with pytest.raises(NotWhole):
        rebuild(day.service)


def test_words_that_were_erased_leave_the_chain_whole(day: Harbour) -> None:
    with day.service.store.writing() as conn:
        row = entry(conn, "noted")
        conn.execute(
            update(t.Words).where(t.Words.fact_id == row.fact_id).values(said=None, salt=None)
        )
    assert audit(day.service).findings == ()


@pytest.mark.parametrize(
    "change",
    [
        lambda conn: conn.execute(update(t.Card).values(status="cleared")),
        lambda conn: conn.execute(update(t.Roll).values(covered=True)),
        lambda conn: conn.execute(delete(t.Copy)),
        lambda conn: conn.execute(delete(t.Label)),
    ],
)
def test_rows_that_were_changed_are_named_and_made_anew(
    day: Harbour, change: Callable[[Connection], object]
) -> None:
    with day.service.store.writing() as conn:
        change(conn)
    found = audit(day.service)
    assert found.findings == ()
    assert found.differences
    rebuild(day.service)
    assert audit(day.service).sound
    assert day.status("S-014") == "exposed"


def test_the_journal_refuses_to_be_changed(day: Harbour) -> None:
    changes = (update(t.Entry).values(event="noted"), delete(t.Entry))
    for change in changes:
        with pytest.raises(DBAPIError), day.service.store.writing() as conn:
            conn.execute(change)
    with day.service.store.reading() as conn:
        assert conn.scalar(select(func.count()).select_from(t.Entry).where(t.Entry.seq > 0))
