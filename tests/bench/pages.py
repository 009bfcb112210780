"""Now for 1,000 cards, beside its statements alone and the same service's empty address.

    python -m tests.bench.pages [--cards 1000] [--fillings 20]

In one process, without a network: what the server does for one page. Prints medians and the
slowest, in milliseconds, and the size of each page in kilobytes.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
import uuid
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from tests.bench.fold import season
from tests.bench.journal import begun
from tracker.domain.facts import CameraSet, CardFact, CopyFact, Loaded
from tracker.services import people
from tracker.services.logging import Said, log_history
from tracker.services.service import Service, new_id
from tracker.store import now_lists
from tracker.web.app import create_app
from tracker.web.session import COOKIE
from tracker.wire.codec import encode

OF_A_FILLING = 11
RUNS = 30


def _so_far(number: int) -> int:
    """How many facts of a card's last filling were logged: of 100 cards 2 are in a camera."""
    last = number % 100
    return 1 if last < 2 else 2 if last < 12 else 5 if last < 16 else 8 if last < 24 else 11


def _facts(cards: int, fillings: int) -> list[CardFact]:
    found = []
    for number, facts in enumerate(season(cards, fillings).values()):
        kept = facts[: len(facts) - OF_A_FILLING + _so_far(number)]
        found += [_named(fact, "ABCD"[number % 4], number) for fact in kept]
    return found


def _named(fact: CardFact, camera: str, number: int) -> CardFact:
    """Not all in one camera, and no roll name twice."""
    if isinstance(fact, Loaded):
        return replace(fact, camera=camera, roll=f"{fact.roll}-{number}")
    return replace(fact, roll=f"{fact.roll}-{number}") if isinstance(fact, CopyFact) else fact


def production(folder: Path, cards: int, fillings: int) -> Service:
    """Cards of which most are cleared, some shot, some half copied, and a few in cameras."""
    service = begun(folder / "bench.db")
    common = {"occurred_at": service.clock(), "logged_at": service.clock(), "origin": "bench"}
    cameras = [
        CameraSet(id=new_id(), letters=letters, unit="main", slots=100, **common)
        for letters in "ABCD"
    ]
    said = [Said(encode(camera)) for camera in cameras]
    for fact in _facts(cards, fillings):
        said.append(Said({**encode(fact), "id": str(uuid.uuid5(uuid.NAMESPACE_URL, fact.id))}))
    log_history(service, said)
    return service


def statements(service: Service) -> None:
    """What Now reads, and nothing done with it."""
    with service.store.reading() as conn:
        read = now_lists.cards(conn)
        now_lists.rolls_by_id(conn, [roll for _, kept in read for roll in kept.held])
        now_lists.units(conn)
        now_lists.standing(conn)
        now_lists.covered_no_more(conn)
        now_lists.count_below(conn)


def measure(name: str, work: Callable[[], object]) -> None:
    """Run it, and print what it took."""
    work()
    took = []
    for _ in range(RUNS):
        started = time.perf_counter()
        work()
        took.append((time.perf_counter() - started) * 1e3)
    print(f"{name:40} median {statistics.median(took):6.1f} ms, slowest {max(took):6.1f} ms")


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(description="What the pages cost.")
    parser.add_argument("--cards", type=int, default=1000)
    parser.add_argument("--fillings", type=int, default=20)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        service = production(Path(folder), given.cards, given.fillings)
        client = create_app(service, {}.get).test_client()
        token = people.let_in(service, "Kim", "data manager", "a bench")
        client.set_cookie(COOKIE, token)
        measure("the statements of Now alone", lambda: statements(service))
        for path in ("/healthz", "/now", "/now?status=cleared", "/now?show=below", "/find?q=C-9"):
            answer = client.get(path)
            assert answer.status_code == 200, answer.text
            name = f"{path} ({len(answer.data) / 1e3:.0f} kB)"
            measure(name, lambda path=path: client.get(path))  # type: ignore[misc]


if __name__ == "__main__":
    main()
