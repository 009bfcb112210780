"""Rows that were changed by hand are found, and put right from the journal."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text

from tests.services.harbour import CART, KIM, PROOF, Clock, Harbour
from tracker.domain.fold import FOLD_VERSION
from tracker.services import acts_card, acts_copies, acts_drive
from tracker.services.auditing import NotWhole, audit, rebuild
from tracker.services.errors import NotSetUp
from tracker.services.logging import log_live
from tracker.services.service import Service, new_id
from tracker.store import expected
from tracker.store.comparing import Difference
from tracker.store.engine import Store

GB = 10**9


@pytest.fixture
def worked(harbour: Harbour) -> Harbour:
    """S-014 was shot and backed up, S-015 ran along as its mirror, S-016 was shot."""
    for label, kind in (("S-014", "main"), ("S-015", "mirror"), ("S-016", "main")):
        roll = "B001" if label == "S-016" else "A001"
        _say(harbour, "loaded", card=label, camera="B", roll=roll, formatted=True, **{"as": kind})
        _say(harbour, "pulled", card=label, bytes=480 * GB)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_copies.copy_checked(
        harbour.service, CART, "S-016", "VAULT", "checksummed", roll="B001", proof=PROOF
    )
    return harbour


def _say(harbour: Harbour, event: str, **fields: Any) -> None:
    harbour.clock.wait()
    at = harbour.clock.now.isoformat()
    log_live(harbour.service, [{"id": new_id(), "event": event, "occurred_at": at, **fields}])


def change(harbour: Harbour, *statements: str) -> None:
    with harbour.service.store.writing() as conn:
        for statement in statements:
            conn.execute(text(statement))


def different(harbour: Harbour) -> list[Difference]:
    found = audit(harbour.service)
    assert found.findings == ()
    assert found.differences is not None
    return list(found.differences)


def test_what_the_services_wrote_is_sound(worked: Harbour) -> None:
    assert audit(worked.service).sound


def test_an_audit_needs_a_production(store: Store, clock: Clock) -> None:
    with pytest.raises(NotSetUp):
        audit(Service(store, clock))


ONE_VALUE = [
    ("UPDATE card SET status = 'cleared' WHERE label = 'S-016'", "card", "status"),
    ("UPDATE card SET may_format = true WHERE label = 'S-016'", "card", "may_format"),
    ("UPDATE card SET since = since + 1 WHERE label = 'S-016'", "card", "since"),
    ("UPDATE card SET facts = 1 WHERE label = 'S-016'", "card", "facts"),
    ("UPDATE card SET fold_version = 0 WHERE label = 'S-016'", "card", "fold_version"),
    ("UPDATE label SET until = 5 WHERE label = 'S-016'", "label", "until"),
    ("UPDATE roll SET covered = true WHERE name = 'B001'", "roll", "covered"),
    ("UPDATE roll SET main = NULL WHERE loaded_as = 'mirror'", "roll", "main"),
    ("UPDATE roll SET bytes = 1 WHERE name = 'B001'", "roll", "bytes"),
    ("UPDATE copy SET rank = 3 WHERE drive = 'VAULT'", "copy", "rank"),
    ("UPDATE drive SET place = 'lab' WHERE label = 'VAULT'", "drive", "place"),
    ("UPDATE camera SET slots = 9 WHERE letters = 'B'", "camera", "slots"),
]


@pytest.mark.parametrize(("statement", "table", "column"), ONE_VALUE)
def test_a_value_that_was_changed_is_named_and_put_right(
    worked: Harbour, statement: str, table: str, column: str
) -> None:
    change(worked, statement)
    (found,) = different(worked)
    assert (found.table, found.column) == (table, column)
    rebuild(worked.service)
    assert worked.agrees()


ONE_ROW = [
    ("DELETE FROM mishap", "mishap"),
    ("DELETE FROM copy WHERE drive = 'VAULT'", "copy"),
    ("DELETE FROM label WHERE label = 'S-016'", "label"),
    ("DELETE FROM drive WHERE label = 'VAULT'", "drive"),
    ("DELETE FROM camera WHERE letters = 'A'", "camera"),
    ("DELETE FROM use WHERE drive = 'VAULT'", "use"),
]


@pytest.mark.parametrize(("statement", "table"), ONE_ROW)
def test_a_row_that_was_deleted_is_named_and_put_back(
    worked: Harbour, statement: str, table: str
) -> None:
    acts_card.retire(worked.service, KIM, "S-016", "worn")
    change(worked, statement)
    (found,) = different(worked)
    assert (found.table, found.column, found.kept) == (table, None, None)
    assert str(found).endswith(": is missing")
    rebuild(worked.service)
    assert worked.agrees()


STRAY = [
    "INSERT INTO drive SELECT 'GHOST', kind, capacity_bytes, enclosure, place, holder, seal,"
    " emptied, failed, lost, returned, usable FROM drive WHERE label = 'VAULT'",
    "INSERT INTO mishap SELECT 'x', 'copy_short', '', '', id, 'danger', NULL FROM card"
    " WHERE label = 'S-015'",
    "INSERT INTO label SELECT 'GHOST', id, -1, NULL FROM card WHERE label = 'S-016'",
    "INSERT INTO copy SELECT roll, 'SHUTTLE', finished, finished_at, rank, sound, bytes, clips,"
    " made_from, awaits FROM copy WHERE drive = 'VAULT'",
]


@pytest.mark.parametrize("statement", STRAY)
def test_a_row_that_nothing_was_logged_for_is_named_and_taken_away(
    worked: Harbour, statement: str
) -> None:
    change(worked, statement)
    (found,) = different(worked)
    assert (found.column, found.expected) == (None, None)
    assert str(found).endswith(": should not be there")
    rebuild(worked.service)
    assert worked.agrees()


def test_a_roll_that_was_moved_to_another_card(worked: Harbour) -> None:
    change(worked, "UPDATE roll SET card = (SELECT id FROM card WHERE label = 'S-015')"
                   " WHERE name = 'B001'")  # fmt: skip
    (found,) = different(worked)
    assert (found.table, found.column) == ("roll", "card")
    rebuild(worked.service)
    assert worked.agrees()


def test_a_card_that_was_never_registered(worked: Harbour) -> None:
    with worked.service.store.writing() as conn:
        row = dict(conn.execute(text("SELECT * FROM card WHERE label = 'S-016'")).one()._mapping)
        conn.execute(text("INSERT INTO subject VALUES ('ghost', 'card')"))
        row |= {"id": "ghost", "label": "G-001"}
        columns = ", ".join(f'"{name}"' for name in row)
        values = ", ".join(f":{name}" for name in row)
        conn.execute(text(f"INSERT INTO card ({columns}) VALUES ({values})"), row)
    (found,) = different(worked)
    assert (found.table, found.key) == ("card", ("ghost",))
    assert "G-001" in rebuild(worked.service)
    assert worked.agrees()


STATES = [b"", b"{}", b"null", b"\xff", b'{"card_id": 7}']


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("table", ["card", "roll"])
def test_a_kept_state_that_cannot_be_read(worked: Harbour, table: str, state: bytes) -> None:
    name = "label = 'S-016'" if table == "card" else "name = 'B001'"
    with worked.service.store.writing() as conn:
        conn.execute(text(f"UPDATE {table} SET state = :state WHERE {name}"), {"state": state})
    assert {(one.table, (one.column or "")[:5]) for one in different(worked)} == {(table, "state")}
    rebuild(worked.service)
    assert worked.agrees()


def test_a_kept_state_is_compared_part_by_part(worked: Harbour) -> None:
    with worked.service.store.writing() as conn:
        state = conn.scalar(text("SELECT state FROM card WHERE label = 'S-016'"))
        edited = bytes(state or b"").replace(b'"missing":false', b'"missing":true')
        conn.execute(text("UPDATE card SET state = :s WHERE label = 'S-016'"), {"s": edited})
    (found,) = different(worked)
    assert (found.column, found.kept, found.expected) == ("state.missing", True, False)


def test_a_rebuild_lists_the_cards_that_are_otherwise_now(worked: Harbour) -> None:
    acts_drive.lose_drive(worked.service, KIM, "RAID")
    change(
        worked,
        "UPDATE card SET status = 'ready' WHERE label = 'S-014'",
        "UPDATE card SET camera = 'A' WHERE label = 'S-015'",
        "UPDATE card SET fold_version = 0",
        "UPDATE production SET fold_version = 0",
        "INSERT INTO mishap SELECT 'x', 'copy_short', '', '', id, 'danger', NULL FROM card"
        " WHERE label = 'S-016'",
    )
    assert rebuild(worked.service) == ["S-014", "S-016"]
    assert rebuild(worked.service) == []
    with worked.service.store.reading() as conn:
        assert conn.scalar(text("SELECT fold_version FROM production")) == FOLD_VERSION
    assert worked.agrees()


def test_a_journal_that_is_not_whole_says_so_and_makes_no_rows(worked: Harbour) -> None:
    change(worked, "UPDATE chain SET count = 99 WHERE subject = 'drive/RAID'",
           "UPDATE card SET status = 'ready'")  # fmt: skip
    found = audit(worked.service)
    assert [finding.subject for finding in found.findings] == ["drive/RAID"]
    assert found.differences is None
    assert not found.sound
    with pytest.raises(NotWhole, match="drive/RAID"):
        rebuild(worked.service)
    assert worked.status("S-014") == "ready"


def test_cards_go_piece_by_piece(worked: Harbour, monkeypatch: pytest.MonkeyPatch) -> None:
    """However small the pieces are: mirrors still find the main rolls of other cards."""
    monkeypatch.setattr(expected, "FACTS_AT_ONCE", 1)
    assert audit(worked.service).sound
    assert rebuild(worked.service) == []
    assert audit(worked.service).sound


def test_an_audit_writes_nothing(worked: Harbour) -> None:
    change(worked, "UPDATE card SET status = 'ready' WHERE label = 'S-014'")
    first = different(worked)
    assert different(worked) == first
    assert worked.status("S-014") == "ready"
