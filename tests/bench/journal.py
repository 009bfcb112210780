"""What the journal costs: bulk, audit, and one fact logged durably.

    python -m tests.bench.journal [--facts 22100] [--rounds 3] [--postgresql ADDRESS]

Each figure has its baseline in the same run: the same rows through the database's driver alone
(bulk), reading and hashing the same bytes (audit), and the statements of the service call
replayed through the driver in one durable transaction (one fact). The best of the rounds counts.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import shutil
import statistics
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import time as clock_time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, event, insert, select

from tests.bench.fold import BEGIN, season
from tracker.domain.facts import CameraSet, DriveRegistered, Fact
from tracker.domain.rule import BackupRule
from tracker.services.logging import Said, log_history, log_live, said_in
from tracker.services.production import set_up
from tracker.services.service import Service, new_id
from tracker.store import migrate
from tracker.store import tables as t
from tracker.store.audit import verify_chains
from tracker.store.engine import Store, open_store, sqlite
from tracker.store.rows import table
from tracker.wire.codec import encode
from tracker.wire.jsonlines import read_json_lines

CYCLE = 11


def begun(address: str | Path) -> Service:
    """An empty production with two drives and a camera."""
    store = open_store(address)
    migrate.upgrade(store)
    service = Service(store)
    set_up(service, "Bench", ZoneInfo("UTC"), clock_time(5), BackupRule(2))
    common: dict[str, Any] = {"occurred_at": BEGIN, "logged_at": BEGIN, "origin": "bench"}
    facts: list[Fact] = [
        DriveRegistered(
            id=new_id(), drive=label, kind="ssd", capacity_bytes=10**13, place="on set", **common
        )
        for label in ("RAID", "SHUTTLE")
    ]
    facts.append(CameraSet(id=new_id(), letters="A", unit="main", **common))
    log_history(service, [Said(encode(fact)) for fact in facts])
    return service


def lines(count: int) -> bytes:
    """About so many facts of 100 cards, as a file."""
    by_card = season(100, max(1, count // (100 * CYCLE)))
    objects = [encode(fact) for facts in by_card.values() for fact in facts]
    for obj in objects:
        obj["id"] = str(uuid.uuid5(uuid.NAMESPACE_URL, obj["id"]))
    return "\n".join(json.dumps(obj) for obj in objects).encode()


def seconds(work: Callable[[], object]) -> float:
    """Seconds of one run."""
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def rows_again(store: Store, other: Store) -> tuple[int, float]:
    """The same journal rows, written through the ordinary layers into an empty database."""
    with store.reading() as conn:
        kept = {
            of: [dict(row._mapping) for row in conn.execute(select(table(of)))]
            for of in (t.Subject, t.Entry, t.Card, t.Roll, t.Copy, t.Mishap)
        }

    def work() -> None:
        with other.writing() as conn:
            for of, rows in kept.items():
                if rows:
                    conn.execute(insert(table(of)), rows)

    return len(kept[t.Entry]), seconds(work)


def audit(store: Store) -> tuple[float, float]:
    """Seconds to verify all chains, and seconds to read and hash the same bytes."""

    def verify() -> None:
        with store.reading() as conn:
            assert not list(verify_chains(conn))

    def read_and_hash() -> None:
        with store.reading() as conn:
            for body in conn.scalars(select(t.Entry.body).execution_options(yield_per=5000)):
                hashlib.sha256(body).hexdigest()

    return seconds(verify), seconds(read_and_hash)


class Recorder:
    """Remembers the statements that reach the driver, to be replayed through it alone."""

    def __init__(self, engine: Any) -> None:
        self.said: list[tuple[str, Any, bool]] = []
        self.on = False
        recorder = self

        class Cursor(sqlite.Cursor):  # type: ignore[misc, name-defined]
            def execute(self, sql: str, values: Any = ()) -> Any:
                recorder._note(sql, values, many=False)
                return super().execute(sql, values)

            def executemany(self, sql: str, values: Any) -> Any:
                recorder._note(sql, values, many=True)
                return super().executemany(sql, values)

        class Recorded(sqlite.Connection):  # type: ignore[misc, name-defined]
            def cursor(self, factory: Any = Cursor) -> Any:
                return super().cursor(factory)

        def use(dialect: Any, pooled: Any, given: Any, named: dict[str, Any]) -> None:
            named["factory"] = Recorded

        event.listen(engine, "do_connect", use)
        engine.dispose()

    def _note(self, sql: str, values: Any, *, many: bool) -> None:
        if self.on and not sql.startswith(("BEGIN", "PRAGMA")):
            self.said.append((sql, values, many))


def one_fact(service: Service, copy: Store, rounds: int) -> tuple[float, float]:
    """Median seconds of one service call, and of its statements through the driver alone.

    The statements run on a copy of the database that is one fact behind, so that they do the
    same work.
    """
    recorder = Recorder(service.store._writer)
    calls, replays = [], []
    for number in range(rounds):
        at = service.clock().isoformat()
        obj = {
            "id": new_id(), "event": "noted", "card": f"C-{number % 100:04d}",
            "occurred_at": at, "text": "bench",
        }  # fmt: skip
        recorder.said.clear()
        recorder.on = True
        calls.append(seconds(lambda said=obj: log_live(service, [said])))  # type: ignore[misc]
        recorder.on = False
        replays.append(seconds(lambda: _replay(copy, recorder.said)))
    return statistics.median(calls), statistics.median(replays)


def _replay(store: Store, said: list[tuple[str, Any, bool]]) -> None:
    with store.writing() as conn:
        driver: Any = conn.connection.driver_connection
        for statement, parameters, many in said:
            cursor = driver.cursor()
            if many:
                cursor.executemany(statement, parameters)
            else:
                cursor.execute(statement, parameters)
                if cursor.description is not None:
                    cursor.fetchall()
            cursor.close()


class Held:
    """How long others could not write: seconds from the lock to the end of the transaction."""

    def __init__(self, store: Store) -> None:
        self.seconds = 0.0
        writing = store.writing

        @contextmanager
        def timed() -> Iterator[Connection]:
            with writing() as conn:
                since = time.perf_counter()
                yield conn
            self.seconds = time.perf_counter() - since

        store.writing = timed  # type: ignore[method-assign]


def bulk(address: str | Path, data: bytes) -> tuple[Service, int, float, float, float]:
    """The service, how many facts, and seconds of an import: in all, of the processor, locked."""
    service = begun(address)
    held = Held(service.store)
    wall, cpu = time.perf_counter(), time.process_time()
    logged = log_history(service, said_in([read_json_lines(data, "bench.jsonl")]))
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    return service, len(logged.new), wall, cpu, held.seconds


def tell_bulk(folder: Path, data: bytes, rounds: int) -> tuple[Service, int]:
    """Print the best of some imports, each beside its rows written alone; the last is given."""
    best = [float("inf")] * 4
    for number in range(rounds):
        service, count, *took = bulk(folder / f"a{number}.db", data)
        other = open_store(folder / f"b{number}.db")
        migrate.upgrade(other)
        rows, again = rows_again(service.store, other)
        other.close()
        best = [min(pair) for pair in zip(best, [*took, again], strict=True)]
        if number < rounds - 1:
            service.store.close()
    wall, cpu, locked, again = best
    print(f"bulk into an empty journal:      {count / wall:10,.0f} facts/s ({count:,} facts)")
    print(f"  by the processor's time:       {count / cpu:10,.0f} facts/s")
    print(f"  others wait, for 10,000 facts: {locked / count * 10_000:10.2f} s")
    print(f"  baseline, the rows alone:      {rows / again:10,.0f} facts/s")
    return service, count


def tell_audit(service: Service, count: int, rounds: int) -> None:
    """Print the best of some audits, and of reading and hashing alone."""
    took = [audit(service.store) for _ in range(rounds)]
    verified, hashed = (min(one[n] for one in took) for n in (0, 1))
    print(f"audit, chains verified:          {count / verified:10,.0f} facts/s")
    print(f"  baseline, read and hash:       {count / hashed:10,.0f} facts/s")


def tell_one(folder: Path, service: Service, file: Path) -> None:
    """Print what one fact costs, on a copy of a database."""
    service.store.close()
    shutil.copy(file, folder / "c.db")
    again, behind = Service(open_store(file)), open_store(folder / "c.db")
    call, replay = one_fact(again, behind, 200)
    behind.close()
    again.store.close()
    print(f"one fact logged, durable:        {call * 1000:10.2f} ms (median of 200)")
    print(f"  baseline, its statements:      {replay * 1000:10.2f} ms")
    print(f"  ratio:                         {call / replay:10.2f}")


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--facts", type=int, default=22_100)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--postgresql")
    asked = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="bench-"))
    data = lines(asked.facts)
    try:
        if asked.postgresql:
            service, count, wall, _, locked = bulk(asked.postgresql, data)
            print(f"bulk into an empty journal:      {count / wall:10,.0f} facts/s")
            print(f"  others wait, for 10,000 facts: {locked / count * 10_000:10.2f} s")
        else:
            service, count = tell_bulk(folder, data, asked.rounds)
            print(service.store.library)
        tell_audit(service, count, asked.rounds)
        if not asked.postgresql:
            tell_one(folder, service, folder / f"a{asked.rounds - 1}.db")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
