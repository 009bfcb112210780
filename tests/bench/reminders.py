"""What a tick costs with 10,000 open conditions, and how many statements it takes.

    python -m tests.bench.reminders [--cards 10000] [--fillings 1] [--postgresql ADDRESS]

The first tick opens every spell, with a process that has read nothing yet; the others find all as
it was, but for one card. The baseline in the same run is reading the same rows and nothing else.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import event

from tests.bench.fold import season
from tests.bench.journal import begun
from tracker.domain.facts import CardFact, CopyFact, Loaded
from tracker.reminders.notices import tick
from tracker.reminders.outbox import deliver
from tracker.services import people
from tracker.services.logging import Said, log_history
from tracker.services.service import Service
from tracker.store import quick
from tracker.store import reminder_reading as reading
from tracker.wire.codec import encode

OF_A_FILLING = 11
CAST = {"Kim": "data manager", "Lee": "loader", "Noor": "production office", "Ada": "administrator"}
DAY = datetime(2026, 1, 1, 12, tzinfo=UTC)


def shot(cards: int, fillings: int) -> Iterator[CardFact]:
    """Cards whose last filling came out of the camera and was not copied, each of its own name."""
    for number, facts in enumerate(season(cards, fillings).values()):
        for fact in facts[: len(facts) - OF_A_FILLING + 2]:
            if isinstance(fact, Loaded | CopyFact):
                yield replace(fact, roll=f"{fact.roll}-{number}")
            else:
                yield fact


def production(address: str | Path, cards: int, fillings: int) -> Service:
    """As many conditions as cards: each is exposed too long."""
    service = begun(address)
    said = []
    for fact in shot(cards, fillings):
        fact_id = str(uuid.uuid5(uuid.NAMESPACE_URL, fact.id))
        said.append(Said({**encode(fact), "id": fact_id}))
    log_history(service, said)
    for name, role in CAST.items():
        people.let_in(service, name, role, "a bench")
    return service


@contextmanager
def counted(service: Service) -> Iterator[list[str]]:
    """The statements of everything that goes past SQLAlchemy's layers, too."""
    said: list[str] = []
    driven = quick._driven

    def heard(conn, sql, values, *, many=False):  # type: ignore[no-untyped-def]
        said.append(sql)
        return driven(conn, sql, values, many=many)

    def executed(*args: object) -> None:
        # Where a transaction begins there is no query.
        if not str(args[2]).startswith("BEGIN"):
            said.append(str(args[2]))

    engines = [service.store._writer, service.store._reader]
    quick._driven = heard
    for engine in engines:
        event.listen(engine, "before_cursor_execute", executed)
    try:
        yield said
    finally:
        quick._driven = driven
        for engine in engines:
            event.remove(engine, "before_cursor_execute", executed)


def measured(name: str, service: Service, work: Callable[[], object]) -> float:
    """Run it once, and print what it took; the seconds of CPU, which others leave alone."""
    with counted(service) as said:
        started, burnt = time.perf_counter(), time.process_time()
        result = work()
        took, cpu = time.perf_counter() - started, time.process_time() - burnt
    print(f"{name:42} {took:5.2f} s, of it {cpu:5.2f} s CPU  {len(said):3} statements  {result}")
    return cpu


def read_only(service: Service) -> None:
    """The same rows, read and left."""
    with service.store.reading() as conn:
        reading.versions(conn)
        reading.cards(conn)


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(description="What a tick costs.")
    parser.add_argument("--cards", type=int, default=10_000)
    parser.add_argument("--fillings", type=int, default=1)
    parser.add_argument("--postgresql")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        address = given.postgresql or Path(folder) / "bench.db"
        service = production(address, given.cards, given.fillings)
        at = DAY + timedelta(hours=5 * (given.fillings - 1))
        measured("reading the rows alone", service, lambda: read_only(service))
        measured("first tick: nothing read, all opens", service, lambda: tick(service, at))
        measured("outbox: one message with all of it", service, lambda: deliver(service, at, {}))
        quiet = [
            measured(
                f"tick {n}: nothing new",
                service,
                lambda n=n: tick(service, at + timedelta(minutes=n)),
            )
            for n in range(1, 6)
        ]
        print(f"median {statistics.median(quiet):.2f} s CPU")
        measured("tick: every second turn comes", service,
                 lambda: tick(service, at + timedelta(hours=2)))  # fmt: skip
        card = {"event": "noted", "card": "C-0000", "text": "a remark"}
        at_now = {"id": str(uuid.uuid4()), "occurred_at": service.clock().isoformat()}
        log_history(service, [Said({**card, **at_now})])
        later = at + timedelta(hours=2, minutes=1)
        measured("tick: one card was logged of", service, lambda: tick(service, later))


if __name__ == "__main__":
    main()
