"""Whatever is done to the journal behind its back is found, and the finding says where."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Connection, text
from sqlalchemy.exc import SQLAlchemyError

from tests.services.happenings import PROOFS, Teller
from tracker.domain.rule import BackupRule
from tracker.services.logging import Said, log_history, log_live
from tracker.services.production import set_up
from tracker.services.service import Service
from tracker.store.audit import Finding, verify_chains
from tracker.store.engine import Store, open_store
from tracker.wire.canonical import canonical

NOW = datetime(2026, 3, 5, 8, 0, tzinfo=UTC)


def tell_a_day(store: Store) -> Teller:
    """A few dozen facts: texts, a void, a late fact, a mirror, a drive lost and found."""
    service = Service(store, lambda: NOW)
    set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5), BackupRule(2))
    t = Teller(lambda: ())
    proof: dict[str, Any] = {"level": "checksummed", "proof": PROOFS[0]}
    told = [
        *t.inventory(),
        t.tell("loaded", "S-014", camera="A", roll="A001", formatted=True),
        t.tell("loaded", "S-015", camera="A", roll="A001", formatted=True, **{"as": "mirror"}),
        t.tell("pulled", "S-014", bytes=480 * 10**9, scenes=["12A", "12B"]),
        t.tell("pulled", "S-015"),
        t.tell("handed_over", "S-014", to="Lee", place="cart"),
        t.tell("copy_checked", "S-014", drive="RAID", **proof),
        t.tell("copy_checked", "S-014", drive="SHUTTLE", **proof),
        t.tell("drive_lost", "RAID", text="Left in the van"),
        t.tell("drive_found", "RAID"),
        t.tell("noted", "S-014", 30, text="Schön: the lens was wet"),
        t.tell("health_read", "S-014", tool="reader", verdict="good", wear_percent=12.5),
        t.tell("cleared", "S-014"),
        t.tell("set_aside", "S-016", reason="bent pins"),
    ]
    told.append(t.tell("voided", "S-016", target=told[-1]["id"], reason="another card"))
    log_history(service, [Said(one) for one in told])
    log_live(service, [t.tell("noted", "S-014", text="one more")])
    return t


@pytest.fixture
def told(store: Store) -> Teller:
    return tell_a_day(store)


@pytest.fixture
def card(told: Teller) -> str:
    """The id of S-014: the chain that the tests tamper with."""
    return told.about["S-014"][0][1]


def findings(store: Store) -> list[Finding]:
    with store.reading() as conn:
        return list(verify_chains(conn))


def tamper(store: Store, *statements: str, **values: Any) -> None:
    """Do what the triggers refuse, after taking them away."""
    with store.writing() as conn:
        unguard(conn)
        for statement in statements:
            conn.execute(text(statement), values)


def unguard(conn: Connection) -> None:
    if conn.dialect.name == "sqlite":
        for name in conn.scalars(
            text("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
        ).all():
            conn.execute(text(f"DROP TRIGGER {name}"))
    else:
        conn.execute(text("ALTER TABLE journal DISABLE TRIGGER ALL"))
        conn.execute(text("ALTER TABLE words DISABLE TRIGGER ALL"))


def body_of(store: Store, card: str, seq: int) -> dict[str, Any]:
    with store.reading() as conn:
        asked = text("SELECT body FROM journal WHERE subject = :card AND seq = :seq")
        told: dict[str, Any] = json.loads(
            conn.execute(asked, {"card": card, "seq": seq}).scalar_one()
        )
        return told


def the_one(store: Store) -> Finding:
    found = findings(store)
    assert len(found) == 1, [str(one) for one in found]
    return found[0]


def where(finding: Finding) -> tuple[str, int | None, str | None]:
    return finding.subject, finding.seq, finding.fact


# Nothing was done


def test_a_journal_that_nobody_touched_is_whole(told: Teller, store: Store) -> None:
    assert findings(store) == []


def test_an_empty_journal_is_whole(store: Store) -> None:
    assert findings(store) == []


def test_erased_words_leave_the_chain_whole(told: Teller, store: Store) -> None:
    with store.writing() as conn:
        conn.execute(text("UPDATE words SET said = NULL, salt = NULL"))
    assert findings(store) == []


# One thing was done: it is found, and the finding says at which fact


AT = "WHERE subject = :card AND seq = 5"


def test_a_body_was_edited(told: Teller, card: str, store: Store) -> None:
    body = body_of(store, card, 5)
    body["drive"] = "VAULT"
    tamper(store, f"UPDATE journal SET body = :body {AT}", card=card, body=canonical(body))
    found = the_one(store)
    assert where(found) == (card, 5, body["id"])
    assert found.what == "its body does not agree with its hash: one of them was changed"


def test_a_hash_was_edited(told: Teller, card: str, store: Store) -> None:
    tamper(store, f"UPDATE journal SET hash = :hash {AT}", card=card, hash="0" * 64)
    assert where(the_one(store))[:2] == (card, 5)


def test_a_body_was_edited_and_hashed_again(told: Teller, card: str, store: Store) -> None:
    """The fact agrees with itself; the next one does not follow it."""
    edited = canonical({**body_of(store, card, 5), "drive": "VAULT"})
    hashed = hashlib.sha256(edited).hexdigest()
    tamper(store, f"UPDATE journal SET body = :b, hash = :h {AT}", card=card, b=edited, h=hashed)
    found = the_one(store)
    assert where(found) == (card, 6, body_of(store, card, 6)["id"])
    assert "does not follow the fact before it" in found.what


def test_the_last_fact_was_edited_and_hashed_again(told: Teller, card: str, store: Store) -> None:
    last = len(told.about["S-014"])
    edited = canonical({**body_of(store, card, last), "roll": "A002"})
    hashed = hashlib.sha256(edited).hexdigest()
    which = "WHERE subject = :card AND seq = :seq"
    tamper(store, f"UPDATE journal SET body = :b, hash = :h {which}", card=card, seq=last, b=edited,
           h=hashed)  # fmt: skip
    found = the_one(store)
    assert where(found)[:2] == (card, last)
    assert "the head kept for this chain is not its hash" in found.what


def test_a_fact_was_deleted(told: Teller, card: str, store: Store) -> None:
    tamper(store, f"DELETE FROM journal {AT}", card=card)
    found = findings(store)
    assert where(found[0]) == (card, 5, None)
    assert found[0].what == "it is missing: the next fact that is there has the number 6"


def test_the_tail_was_deleted(told: Teller, card: str, store: Store) -> None:
    tamper(store, "DELETE FROM journal WHERE subject = :card AND seq >= 5", card=card)
    found = findings(store)[0]
    assert where(found) == (card, 5, None)
    count = len(told.about["S-014"])
    assert found.what == f"it and what follows is missing: {count} facts were kept, 4 are there"


def test_a_whole_chain_was_deleted(told: Teller, card: str, store: Store) -> None:
    tamper(store, "DELETE FROM journal WHERE subject = :card", card=card)
    found = findings(store)[0]
    assert where(found) == (card, 1, None)
    assert "all of its facts are missing" in found.what


def test_two_facts_changed_places(told: Teller, card: str, store: Store) -> None:
    tamper(
        store,
        f"UPDATE journal SET seq = 99 {AT}",
        "UPDATE journal SET seq = 5 WHERE subject = :card AND seq = 6",
        "UPDATE journal SET seq = 6 WHERE subject = :card AND seq = 99",
        card=card,
    )
    found = the_one(store)
    assert where(found)[:2] == (card, 5)
    assert found.what == "its column seq says 5, its body 6"


def test_a_fact_was_put_in(told: Teller, card: str, store: Store) -> None:
    """At the end, and in every way as the service would have written it; but nobody logged it."""
    last = len(told.about["S-014"])
    before = body_of(store, card, last)
    with store.reading() as conn:
        head = conn.scalar(text("SELECT head FROM chain WHERE subject = :card"), {"card": card})
    del before["words"]
    forged = canonical({**before, "seq": last + 1, "prev": head, "id": "forged"})
    tamper(
        store,
        "INSERT INTO journal SELECT subject, origin, :seq, 'forged', event, occurred_at, logged_at,"
        " said, :body, :hash, :head FROM journal WHERE subject = :card AND seq = :last",
        card=card, last=last, seq=last + 1, body=forged, head=head,
        hash=hashlib.sha256(forged).hexdigest(),
    )  # fmt: skip
    found = the_one(store)
    assert where(found) == (card, last + 1, "forged")
    assert found.what == f"{last} facts were kept, {last + 1} are there"


@pytest.mark.parametrize("column", ["event", "fact_id", "prev", "occurred_at", "logged_at"])
def test_a_column_was_edited(told: Teller, card: str, store: Store, column: str) -> None:
    value: object = 1_000_000 if column.endswith("_at") else "noted"
    tamper(store, f"UPDATE journal SET {column} = :value {AT}", card=card, value=value)
    found = findings(store)[0]
    assert where(found)[:2] == (card, 5)
    assert f"its column {column.removeprefix('fact_')} says {value}" in found.what


def test_a_chain_row_was_dropped(told: Teller, card: str, store: Store) -> None:
    tamper(store, "DELETE FROM chain WHERE subject = :card", card=card)
    found = the_one(store)
    assert where(found) == (card, None, None)
    count = len(told.about["S-014"])
    assert found.what == f"its head and count are missing; {count} facts are there"


@pytest.mark.parametrize(
    "change", ["head = '0'", "count = 3", "count = 99", "origin = 'elsewhere'"]
)
def test_a_chain_row_was_edited(told: Teller, card: str, store: Store, change: str) -> None:
    tamper(store, f"UPDATE chain SET {change} WHERE subject = :card", card=card)
    assert card in {found.subject for found in findings(store)}


def test_a_subject_was_made_another_kind(told: Teller, store: Store) -> None:
    """So that its facts are not looked for where they matter."""
    tamper(store, "UPDATE subject SET kind = 'card' WHERE id = 'drive/RAID'")
    assert the_one(store).what == "kept as a card, it is a drive"


# Words stand apart, and are committed to


def noted(told: Teller) -> str:
    return next(fact_id for event, fact_id in told.about["S-014"] if event == "noted")


@pytest.mark.parametrize(
    "change",
    ["said = '{\"text\":\"dry\"}'", "said = '{}'", "said = '[]'", "said = '7'", "salt = '00'",
     "salt = NULL"],
)  # fmt: skip
def test_words_were_edited(told: Teller, card: str, store: Store, change: str) -> None:
    tamper(store, f"UPDATE words SET {change} WHERE fact_id = :noted", noted=noted(told))
    found = the_one(store)
    assert (found.subject, found.fact) == (card, noted(told))
    assert "its words are not those that were said" in found.what


def test_words_were_deleted(told: Teller, card: str, store: Store) -> None:
    tamper(store, "DELETE FROM words WHERE fact_id = :noted", noted=noted(told))
    found = the_one(store)
    assert (found.fact, found.what) == (noted(told), "its words are missing")


def test_words_were_put_in_the_mouth_of_a_fact_that_had_none(
    told: Teller, card: str, store: Store
) -> None:
    """They would be read as its own: `bytes` as well as `text`."""
    pulled = next(fact_id for event, fact_id in told.about["S-014"] if event == "pulled")
    tamper(
        store,
        "INSERT INTO words (fact_id, salt, said) VALUES (:id, '00', :said)",
        id=pulled,
        said='{"bytes":1}',
    )
    found = the_one(store)
    assert (found.fact, found.what) == (pulled, "words were put to it that it never had")


def test_words_of_no_fact(told: Teller, store: Store) -> None:
    tamper(store, "INSERT INTO words (fact_id, salt, said) VALUES ('nothing', '00', '{}')")
    assert (the_one(store).subject, the_one(store).fact) == ("words", "nothing")


# Nothing that a row may hold makes a traceback


def rehashed(store: Store, card: str, body: bytes) -> None:
    hashed = hashlib.sha256(body).hexdigest()
    tamper(store, f"UPDATE journal SET body = :b, hash = :h {AT}", card=card, b=body, h=hashed)


@pytest.mark.parametrize(
    "body",
    [
        b"", b"null", b"[1, 2]", b"{", b'"text"', b"\xff\xfe", b'{"id":1,"id":2}', b'{"seq":5 }',
        b"{}", b'{"a":1e400}', b'{"a":NaN}', b'{"a":123456789012345678901234567890}',
        b'{"id":"\\ud800"}', b"[" * 100_000, b'{"a":' * 5_000 + b"1" + b"}" * 5_000,
    ],
)  # fmt: skip
def test_a_body_that_is_no_fact(told: Teller, card: str, store: Store, body: bytes) -> None:
    rehashed(store, card, body)
    assert where(the_one(store))[:2] == (card, 5)


@pytest.mark.parametrize("spelling", ["spaces", "order", "escapes", "float"])
def test_a_body_that_is_not_spelt_canonically(
    told: Teller, card: str, store: Store, spelling: str
) -> None:
    body = body_of(store, card, 5)
    raw = {
        "spaces": json.dumps(body, sort_keys=True).encode(),
        "order": json.dumps(body, separators=(",", ":"))[:-1].encode() + b',"a":1}',
        "escapes": canonical(body).replace(b'"copy', b'"\\u0063opy'),
        "float": canonical(body).replace(b'"seq":5', b'"seq":5.0'),
    }[spelling]
    rehashed(store, card, raw)
    assert the_one(store).what == "its body is not a JSON object in its canonical form"


@pytest.mark.parametrize(
    "column", ["seq", "occurred_at", "logged_at", "body", "hash", "prev", "event"]
)
@pytest.mark.parametrize("value", ["'text'", "x'ff00fe'", "1.5", "CAST(x'fffe' AS TEXT)"])
def test_sqlite_keeps_anything_in_any_column(
    new_store: Callable[..., Store], column: str, value: str
) -> None:
    store = new_store("sqlite")
    told = tell_a_day(store)
    card = told.about["S-014"][0][1]
    tamper(store, f"UPDATE journal SET {column} = {value} {AT}", card=card)
    assert card in {found.subject for found in findings(store)}


@pytest.mark.parametrize("table", ["chain", "subject", "words"])
@pytest.mark.parametrize("value", ["x'ff00fe'", "1.5", "CAST(x'fffe' AS TEXT)"])
def test_sqlite_keeps_anything_beside_the_journal(
    new_store: Callable[..., Store], table: str, value: str
) -> None:
    store = new_store("sqlite")
    tell_a_day(store)
    columns = {"chain": ("head", "count"), "subject": ("kind",), "words": ("salt", "said")}
    for column in columns[table]:
        tamper(store, f"UPDATE {table} SET {column} = {value}")
    assert findings(store)


# Any of it, at random


@pytest.fixture(scope="session")
def day_file(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Path:
    """A SQLite file with the day told, for tests that copy it many times."""
    file = tmp_path_factory.mktemp("day") / "day.db"
    shutil.copy(sqlite_template, file)
    store = open_store(file)
    tell_a_day(store)
    store.close()
    return file


COLUMNS = ("subject", "origin", "seq", "fact_id", "event", "occurred_at", "logged_at", "body",
           "hash", "prev")  # fmt: skip
VALUES = st.one_of(
    st.integers(-(2**40), 2**40), st.text('ab0{}"é', max_size=5), st.binary(max_size=5)
)
EDITS = st.one_of(
    st.tuples(st.just("set"), st.sampled_from(COLUMNS), VALUES),
    st.tuples(st.just("flip"), st.integers(0, 10_000), st.integers(1, 255)),
    st.tuples(st.just("delete"), st.none(), st.none()),
    st.tuples(st.just("words"), st.sampled_from(("said", "salt")), VALUES),
    st.tuples(st.just("chain"), st.sampled_from(("head", "count")), VALUES),
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(edit=EDITS, nth=st.integers(0, 200))
def test_any_tampering_is_found_and_located(
    day_file: Path, tmp_path: Path, edit: tuple[str, Any, Any], nth: int
) -> None:
    file = tmp_path / "tampered.db"
    for old in tmp_path.glob("tampered.db*"):
        old.unlink()
    shutil.copy(day_file, file)
    with closing(open_store(file)) as store:
        touched = tampered(store, edit, nth)
        found = findings(store)
    if touched is None:
        assert found == []
    else:
        assert touched in {finding.subject for finding in found}, [str(one) for one in found]


def tampered(store: Store, edit: tuple[str, Any, Any], nth: int) -> str | None:
    """Do it; gives the subject whose chain it broke, or None if it changed nothing."""
    kind, what, value = edit
    with store.writing() as conn:
        unguard(conn)
        conn.execute(text("PRAGMA defer_foreign_keys = ON"))
        # Rows can be put where the schema would refuse them, by whoever writes the file itself.
        subject, rowid = row_of(conn, kind, nth)
        before = snapshot(conn)
        try:
            with conn.begin_nested():
                change(conn, kind, what, value, rowid)
        except (SQLAlchemyError, OverflowError, UnicodeError):  # no such value can be written
            return None
        if snapshot(conn) == before:
            return None
        conn.execute(text("INSERT INTO subject SELECT DISTINCT subject, 'card' FROM journal"
                          " WHERE subject NOT IN (SELECT id FROM subject)"))  # fmt: skip
    return subject


def row_of(conn: Connection, kind: str, nth: int) -> tuple[str, int]:
    asked = {
        "words": "SELECT j.subject, w.rowid FROM words w JOIN journal j ON j.fact_id = w.fact_id",
        "chain": "SELECT subject, rowid FROM chain",
    }.get(kind, "SELECT subject, rowid FROM journal")
    rows = conn.execute(text(f"{asked} ORDER BY 2")).all()
    subject, rowid = rows[nth % len(rows)]
    return subject, rowid


def snapshot(conn: Connection) -> list[Any]:
    tables = ("journal", "words", "chain")
    return [list(conn.execute(text(f"SELECT * FROM {table}"))) for table in tables]


def change(conn: Connection, kind: str, what: Any, value: Any, rowid: int) -> None:
    at = {"rowid": rowid, "value": value}
    if kind == "delete":
        conn.execute(text("DELETE FROM journal WHERE rowid = :rowid"), at)
    elif kind == "flip":
        body = bytearray(
            conn.scalar(text("SELECT body FROM journal WHERE rowid = :rowid"), at) or b""
        )
        body[what % len(body)] ^= value
        at["value"] = bytes(body)
        conn.execute(text("UPDATE journal SET body = :value WHERE rowid = :rowid"), at)
    else:
        table = {"set": "journal", "words": "words", "chain": "chain"}[kind]
        conn.execute(text(f"UPDATE {table} SET {what} = :value WHERE rowid = :rowid"), at)
