"""A thousand random tamperings with a journal, behind its back: each is found, and where it is.

Edits, deletions, swaps and insertions of whole rows, by someone who may write the file itself.
Where the tamperer also writes the rest of the chain anew, hashes, heads and all, the chains agree
again: then the checkpoint that was kept elsewhere tells.
"""

from __future__ import annotations

import hashlib
import json
import random
import shutil
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, text

from tests.operations.conftest import a_day
from tests.services.harbour import KIM, Clock, begin
from tracker.services import acts_card as cards
from tracker.services.service import Service
from tracker.store.audit import Finding, verify_chains
from tracker.store.checkpoints import checkpoint_of, verify_against
from tracker.store.engine import Store, open_store
from tracker.wire.canonical import canonical
from tracker.wire.checkpoint import Checkpoint

TAMPERINGS = 1000
COLUMNS = ("subject", "origin", "seq", "fact_id", "event", "occurred_at", "logged_at", "body",
           "hash", "prev")  # fmt: skip


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Path:
    """A database in which three cards had a day."""
    file = tmp_path_factory.mktemp("day") / "day.db"
    shutil.copy(sqlite_template, file)
    with closing(open_store(file)) as store:
        harbour = begin(store, Clock())
        for card in ("S-014", "S-015", "S-016"):
            a_day(harbour, card)
        with store.writing() as conn:
            for name in conn.scalars(
                text("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
            ).all():
                conn.execute(text(f"DROP TRIGGER {name}"))
    return file


@dataclass(frozen=True)
class Row:
    """A row of the journal, and what can be done to it."""

    rowid: int
    subject: str
    origin: str
    seq: int
    body: bytes

    @property
    def chain(self) -> tuple[str, str]:
        return self.subject, self.origin


@dataclass(frozen=True)
class Done:
    """What was done: the chains that it broke, and at which fact that must show at the latest."""

    what: str
    chains: dict[tuple[str, str], int]


Tamper = Callable[[Connection, list[Row], random.Random], Done]


def edit_body(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    row = chance.choice(rows)
    body = bytearray(row.body)
    body[chance.randrange(len(body))] ^= chance.randint(1, 255)
    run(conn, "UPDATE journal SET body = :body WHERE rowid = :rowid", row, body=bytes(body))
    return Done("a byte of a body", {row.chain: row.seq})


def edit_column(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    row, column = chance.choice(rows), chance.choice(COLUMNS[4:])
    other: Any = chance.choice(["x", 7, b"\xff", "1" * 64])
    run(conn, f"UPDATE journal SET {column} = :other WHERE rowid = :rowid", row, other=other)
    # A hash that was changed may show at the next fact only, which does not follow it.
    return Done(f"the column {column}", {row.chain: row.seq + 1})


def move(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    row, other = chance.sample(rows, 2)
    seq = 10_000 + chance.randrange(1000)
    said = "UPDATE journal SET subject = :subject, seq = :seq WHERE rowid = :rowid"
    run(conn, said, row, subject=other.subject, seq=seq)
    return Done("moved to another subject", {row.chain: row.seq})


def delete(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    row = chance.choice(rows)
    run(conn, "DELETE FROM journal WHERE rowid = :rowid", row)
    return Done("deleted", {row.chain: row.seq})


def delete_tail(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    row = chance.choice(rows)
    gone = "DELETE FROM journal WHERE subject = :subject AND seq >= :seq AND :rowid > 0"
    run(conn, gone, row, subject=row.subject, seq=row.seq)
    return Done("all after it deleted", {row.chain: row.seq})


def swap(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    one = chance.choice([row for row in rows if sum(r.chain == row.chain for r in rows) > 1])
    other = chance.choice([row for row in rows if row.chain == one.chain and row != one])
    for row, seq in ((one, 10_000), (other, one.seq), (one, other.seq)):
        run(conn, "UPDATE journal SET seq = :seq WHERE rowid = :rowid", row, seq=seq)
    return Done("two swapped", {one.chain: min(one.seq, other.seq)})


def swap_bodies(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    one, other = chance.sample(rows, 2)
    for row, body in ((one, other.body), (other, one.body)):
        run(conn, "UPDATE journal SET body = :body WHERE rowid = :rowid", row, body=body)
    chains: dict[tuple[str, str], int] = {}
    for row in (one, other):
        chains[row.chain] = min(row.seq, chains.get(row.chain, row.seq))
    return Done("two bodies swapped", chains)


def double(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    row = chance.choice(rows)
    last = max(other.seq for other in rows if other.chain == row.chain)
    put = (
        "INSERT INTO journal SELECT subject, origin, :seq, 'again', event, occurred_at, logged_at,"
        " said, body, hash, prev FROM journal WHERE rowid = :rowid"
    )
    run(conn, put, row, seq=last + 1)
    return Done("one put in again", {row.chain: last + 1})


TAMPERERS: tuple[Tamper, ...] = (
    edit_body, edit_column, move, delete, delete_tail, swap, swap_bodies, double,
)  # fmt: skip


def write_anew(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    """Edit a fact, and everything after it in its chain, so that all hashes agree again."""
    row = chance.choice(rows)
    rest = sorted((r for r in rows if r.chain == row.chain), key=lambda r: r.seq)
    head = ""
    for one in rest[row.seq - 1 :]:
        told = json.loads(one.body)
        if one is row:
            told["by"] = "somebody else"
        else:
            told["prev"] = head
        body = canonical(told)
        head = hashlib.sha256(body).hexdigest()
        said = "UPDATE journal SET body = :b, hash = :h, prev = :p WHERE rowid = :rowid"
        run(conn, said, one, b=body, h=head, p=told["prev"])
    said = "UPDATE chain SET head = :h WHERE subject = :s AND origin = :o AND :rowid > 0"
    run(conn, said, row, h=head, s=row.subject, o=row.origin)
    return Done("written anew", {row.chain: rest[-1].seq})


def cut_off(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    """A chain cut off, with its head and count put right."""
    row = chance.choice([row for row in rows if row.seq > 1])
    delete_tail_of(conn, row)
    before = next(r for r in rows if r.chain == row.chain and r.seq == row.seq - 1)
    head = hashlib.sha256(before.body).hexdigest()
    said = "UPDATE chain SET head = :h, count = :c WHERE subject = :s AND :rowid > 0"
    run(conn, said, row, h=head, c=before.seq, s=row.subject)
    return Done("cut off", {row.chain: max(r.seq for r in rows if r.chain == row.chain)})


def delete_tail_of(conn: Connection, row: Row) -> None:
    gone = "FROM journal WHERE subject = :s AND seq >= :seq"
    given = {"s": row.subject, "seq": row.seq}
    conn.execute(text(f"DELETE FROM words WHERE fact_id IN (SELECT fact_id {gone})"), given)
    conn.execute(text(f"DELETE {gone}"), given)


def forget_a_chain(conn: Connection, rows: list[Row], chance: random.Random) -> Done:
    """A chain taken out as if it had never been."""
    row = chance.choice([row for row in rows if row.seq == 1])
    delete_tail_of(conn, row)
    said = "DELETE FROM chain WHERE subject = :s AND :rowid > 0"
    run(conn, said, row, s=row.subject)
    return Done("forgotten", {row.chain: max(r.seq for r in rows if r.chain == row.chain)})


CUNNING: tuple[Tamper, ...] = (write_anew, cut_off, forget_a_chain)


def run(conn: Connection, said: str, row: Row, **values: Any) -> None:
    conn.execute(text(said), {"rowid": row.rowid, **values})


def rows_of(conn: Connection) -> list[Row]:
    asked = "SELECT rowid, subject, origin, seq, body FROM journal ORDER BY subject, origin, seq"
    return [Row(*row) for row in conn.execute(text(asked))]


def found_after(
    store: Store, tamper: Tamper, chance: random.Random, kept: Checkpoint | None
) -> tuple[Done, list[Finding], list[Finding]]:
    """Do it, look, and undo it: what was done, what the chains say, what the checkpoint says."""
    with store.writing() as conn:
        conn.execute(text("PRAGMA defer_foreign_keys = ON"))
        savepoint = conn.begin_nested()
        done = tamper(conn, rows_of(conn), chance)
        by_chains = list(verify_chains(conn))
        by_checkpoint = [] if kept is None else list(verify_against(conn, kept))
        savepoint.rollback()
    return done, by_chains, by_checkpoint


def test_a_thousand_tamperings(day: Path) -> None:
    chance = random.Random(7)
    with closing(open_store(day)) as store:
        for number in range(TAMPERINGS):
            tamper = TAMPERERS[number % len(TAMPERERS)]
            done, findings, _ = found_after(store, tamper, chance, None)
            where = {(one.subject, one.origin): one.seq for one in findings}
            for chain, seq in done.chains.items():
                assert chain in where, (number, done)
                shown = where[chain]
                assert shown is None or shown <= seq, (number, done, findings)
        with store.reading() as conn:
            assert list(verify_chains(conn)) == []


def test_whoever_writes_the_chain_anew_is_told_by_the_checkpoint(day: Path) -> None:
    chance = random.Random(8)
    with closing(open_store(day)) as store:
        with store.reading() as conn:
            kept = checkpoint_of(conn, Clock().now)
            assert list(verify_against(conn, kept)) == []
        for number in range(TAMPERINGS // 5):
            tamper = CUNNING[number % len(CUNNING)]
            done, by_chains, by_checkpoint = found_after(store, tamper, chance, kept)
            assert by_chains == [], (number, done, by_chains)
            found = {(one.subject, one.origin): one.seq for one in by_checkpoint}
            assert found == done.chains, (number, done)


def test_what_was_logged_since_is_no_tampering(day: Path, tmp_path: Path) -> None:
    shutil.copy(day, tmp_path / "later.db")
    clock = Clock()
    with closing(open_store(tmp_path / "later.db")) as store:
        with store.reading() as conn:
            kept = checkpoint_of(conn, clock.now)
        cards.note(Service(store, clock), KIM, "S-014", "one more")
        with store.reading() as conn:
            assert list(verify_against(conn, kept)) == []
            assert checkpoint_of(conn, clock.now).root != kept.root


def test_a_checkpoint_of_another_production(day: Path, new_store: Callable[..., Store]) -> None:
    other = new_store("sqlite")
    begin(other, Clock())
    with other.reading() as conn:
        kept = checkpoint_of(conn, Clock().now)
    with closing(open_store(day)) as store, store.reading() as conn:
        (found,) = verify_against(conn, kept)
    assert found.what == "the checkpoint is of another production (Harbour)"
