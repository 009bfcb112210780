"""What a long journal costs: bulk into it, pages before it, and a write beside heavy readers.

    python -m tests.bench.durability bulk [--behind 5000000] [--facts 22100]
    python -m tests.bench.durability behind [--few 1] [--many 91] [--cards 1000]
    python -m tests.bench.durability readers [--fillings 20]
    python -m tests.bench.durability backup [--fillings 20]

`bulk`: the same file of facts into an empty journal and into a long one, in the same run; what lies
behind are its own rows said again under other ids, by one statement, and no chain of them is whole.
`behind`: what Now and a card's page ask, with few facts behind and with many, by turns.
`readers`: one fact logged, with nobody else, and beside three that read everything, as threads of
the service and as processes of their own; and in journal mode delete, to compare.
`backup`: a backup made, tried and restored, beside the file copied as it is.
"""

from __future__ import annotations

import argparse
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from sqlalchemy import text

from tests.bench.journal import Held, begun, lines
from tests.bench.pages import production
from tracker.operations.archive import open_backup
from tracker.operations.backup import back_up
from tracker.operations.restore import restore, try_restoring
from tracker.services import acts_card, now
from tracker.services.card_page import card_page
from tracker.services.logging import log_history, said_in
from tracker.services.looking import now_for_programs
from tracker.services.service import Service, Who
from tracker.store import engine
from tracker.store.audit import verify_chains
from tracker.store.engine import open_store
from tracker.wire.jsonlines import read_json_lines

WRITES = 30
READERS = 3
PAUSE_S = 0.05


def put_behind(service: Service, count: int) -> int:
    """Rows under other ids, until there are so many; how many there are."""
    with service.store.writing() as conn:
        asked = text("SELECT count(*) FROM journal WHERE subject < 'old/'")
        there = conn.scalar(asked) or 0
        old = [{"id": f"old/{turn}"} for turn in range(count // there)]
        conn.execute(text("INSERT INTO subject VALUES (:id, 'card')"), old)
    for turn in range(count // there):
        with service.store.writing() as conn:
            conn.execute(
                text(
                    "INSERT INTO journal SELECT 'old/' || :turn, origin, :turn * 1000000 +"
                    " row_number() OVER (), :turn || '/' || fact_id, event, occurred_at, logged_at,"
                    " said, body, hash, prev FROM journal WHERE subject < 'old/'"
                ),
                {"turn": turn},
            )
    with service.store.reading() as conn:
        return int(conn.scalar(text("SELECT count(*) FROM journal")) or 0)


def bulk(folder: Path, behind: int, facts: int) -> None:
    """Print the facts per second into an empty journal and into a long one."""
    first, second = lines(facts), lines(facts).replace(b'"C-', b'"D-')
    for name, wanted in (("empty", 0), ("long", behind)):
        length = 0
        service = begun(folder / f"{name}.db")
        if wanted:
            log_history(service, said_in([read_json_lines(first, "a.jsonl")]))
            length = put_behind(service, wanted)
        data = other_ids(second) if wanted else first
        held = Held(service.store)
        wall, cpu = time.perf_counter(), time.process_time()
        logged = log_history(service, said_in([read_json_lines(data, "b.jsonl")]))
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        count = len(logged.new)
        size = (folder / f"{name}.db").stat().st_size / 1e9
        print(f"bulk of {count:,} into a journal of {length:,} facts ({size:.1f} GB):")
        print(f"  {count / wall:10,.0f} facts/s, {count / cpu:10,.0f} by the processor's time")
        print(f"  others waited {held.seconds:.2f} s")
        service.store.close()


def other_ids(data: bytes) -> bytes:
    """The same facts under other ids, which sort among those that are there."""
    made = []
    for line in data.splitlines():
        said = json.loads(line)
        said["id"] = str(uuid.uuid5(uuid.NAMESPACE_URL, said["id"] + "again"))
        made.append(json.dumps(said))
    return "\n".join(made).encode()


def behind(folder: Path, cards: int, few: int, many: int) -> None:
    """Print what pages ask, with few and many facts behind, by turns."""
    services = []
    for fillings in (few, many):
        place = folder / str(fillings)
        place.mkdir()
        service = production(place, cards, fillings)
        with service.store.reading() as conn:
            count = conn.scalar(text("SELECT count(*) FROM journal"))
        print(f"{cards:,} cards with {fillings} fillings each: {count:,} facts")
        services.append(service)
    asked: dict[str, Callable[[Service], object]] = {
        "Now, as its page asks": now.now,
        "now, as programs ask": now_for_programs,
        "a card's page": lambda service: [card_page(service, f"C-{n:04d}") for n in (7, 150, 420)],
    }
    for name, ask in asked.items():
        took: tuple[list[float], list[float]] = ([], [])
        for _ in range(15):
            for service, times in zip(services, took, strict=True):
                started = time.perf_counter()
                ask(service)
                times.append((time.perf_counter() - started) * 1e3)
        medians = [statistics.median(times[1:]) for times in took]
        ratio = medians[1] / medians[0]
        print(f"{name:28} {medians[0]:8.1f} ms, {medians[1]:8.1f} ms, ratio {ratio:.2f}")


def writes(service: Service) -> float:
    """Median milliseconds of one fact logged, with a pause before each as people make."""
    took = []
    acts_card.note(service, Who(by="kim"), "C-0000", "to warm up")
    for number in range(WRITES):
        time.sleep(PAUSE_S)
        started = time.perf_counter()
        acts_card.note(service, Who(by="kim"), f"C-{number:04d}", "bench")
        took.append((time.perf_counter() - started) * 1e3)
    return statistics.median(took)


def read_all(file: Path, until: Callable[[], bool]) -> None:
    """Read the whole journal again and again."""
    with closing(open_store(file)) as store:
        while not until():
            with store.reading() as conn:
                for _ in verify_chains(conn):
                    pass


def round_told() -> bool:
    """Say that a round begins; there is always another."""
    print("round", flush=True)
    return False


def beside_threads(service: Service, file: Path) -> float:
    """Median milliseconds, beside readers that are threads of this process."""
    enough = threading.Event()
    reading = [
        threading.Thread(target=read_all, args=(file, enough.is_set)) for _ in range(READERS)
    ]
    for thread in reading:
        thread.start()
    try:
        return writes(service)
    finally:
        enough.set()
        for thread in reading:
            thread.join()


def beside_processes(service: Service, file: Path) -> float:
    """Median milliseconds, beside readers that are processes of their own."""
    said = (
        "import sys; from pathlib import Path; from tests.bench import durability as d;"
        "d.mode(sys.argv[2]); d.read_all(Path(sys.argv[1]), d.round_told)"
    )
    mode_now = service.store.journal_mode or ""
    reading = [
        subprocess.Popen([sys.executable, "-c", said, str(file), mode_now], stdout=subprocess.PIPE)
        for _ in range(READERS)
    ]
    for process in reading:
        assert process.stdout is not None
        assert process.stdout.readline() == b"round\n"
    try:
        return writes(service)
    finally:
        assert all(process.poll() is None for process in reading), "a reader has ended"
        for process in reading:
            process.kill()
            process.wait()


def mode(wanted: str) -> None:
    """Open files in that journal mode from now on."""
    engine.journal_mode_for = lambda version: wanted


def readers(folder: Path, fillings: int) -> None:
    """Print what a write costs alone and beside readers, in each journal mode."""
    production(folder, 1000, fillings).store.close()
    file = folder / "bench.db"
    for wanted in ("wal", "delete"):
        mode(wanted)
        service = Service(open_store(file))
        print(service.store.library)
        print(f"  alone                      {writes(service):8.2f} ms (median of {WRITES})")
        print(f"  beside {READERS} reading processes {beside_processes(service, file):8.2f} ms")
        print(f"  beside {READERS} reading threads   {beside_threads(service, file):8.2f} ms")
        service.store.close()


def backup(folder: Path, fillings: int) -> None:
    """Print what a backup takes, and its size."""
    service, file = production(folder, 1000, fillings), folder / "bench.db"
    took: dict[str, float] = {}

    def timed(name: str, work: Callable[[], object]) -> None:
        started = time.perf_counter()
        work()
        took[name] = time.perf_counter() - started

    place = folder / "a.zip"
    timed("backup", lambda: back_up(service, place))
    timed("restore test", lambda: try_restoring(service, file, place))
    service.store.close()
    timed("restore", lambda: restore(folder / "new.db", place))
    timed("baseline: the file copied", lambda: shutil.copy(file, folder / "copy.db"))
    with open_backup(place) as made:
        print(f"{made.manifest.facts:,} facts, {file.stat().st_size / 1e6:,.0f} MB,"
              f" {place.stat().st_size / 1e6:,.0f} MB as a backup")  # fmt: skip
    for name, seconds in took.items():
        print(f"  {name:26} {seconds:8.2f} s")


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(description="What a long journal costs.")
    parser.add_argument("what", choices=["bulk", "behind", "readers", "backup"])
    parser.add_argument("--behind", type=int, default=5_000_000)
    parser.add_argument("--facts", type=int, default=22_100)
    parser.add_argument("--cards", type=int, default=1000)
    parser.add_argument("--few", type=int, default=1)
    parser.add_argument("--many", type=int, default=91)
    parser.add_argument("--fillings", type=int, default=20)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        folder = Path(name)
        if given.what == "bulk":
            bulk(folder, given.behind, given.facts)
        elif given.what == "behind":
            behind(folder, given.cards, given.few, given.many)
        elif given.what == "readers":
            readers(folder, given.fillings)
        else:
            backup(folder, given.fillings)


if __name__ == "__main__":
    main()
