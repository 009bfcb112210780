"""Figures of a huge production, beside DuckDB on the same rows.

    python -m tests.bench.figures [--cards 500] [--days 200] [--fillings 2]

Rows are written straight into the tables: 500 cards for 200 days with nearly two rolls a day each
are what two million facts leave. Prints medians in milliseconds: what is read and counted, the
figure as data, its answer over HTTP (without a network), and DuckDB counting the same rows.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from tests.bench.journal import begun
from tracker.reports.figures import data_figures, rotation_drawn, wear_figures
from tracker.services import data_page, people, rotation_page, wear_page
from tracker.services.service import Service
from tracker.store import tables as t
from tracker.store.types import moment_text
from tracker.web.app import create_app
from tracker.web.session import COOKIE

RUNS = 5
FIRST = datetime(2026, 1, 5, 6, tzinfo=UTC)
ROLL: dict[str, Any] = dict.fromkeys(column.key for column in t.Roll.__table__.columns) | {
    "guessed": False, "loaded_as": "main", "covered_when_wiped": True, "loss_settled": False,
    "parted": False, "mirror_wiped_early": False, "owes": True, "empty": False, "closed": True,
    "state": b"", "names": "",
}  # fmt: skip


def rolls(card: int, days: int, fillings: int) -> list[dict[str, Any]]:
    """The rolls of a card: in a camera for hours, wiped before the next; some not covered."""
    made = []
    gap = timedelta(days=1) / fillings
    for number in range(days * fillings):
        opened = FIRST + gap * number + timedelta(minutes=card % 60)
        closed, wiped = opened + gap / 5, opened + gap * 0.9
        last = number == days * fillings - 1
        made.append(
            ROLL | {
                "id": f"r-{card}-{number}", "card": f"c-{card}", "position": number,
                "name": f"A{card:03}{number:04}", "camera": "ABCDEFGH"[card % 8],
                "opened_at": opened, "closed_at": closed, "held": last,
                "wiped": None if last else moment_text((wiped, wiped, "", "")),
                "bytes": (300 + 7 * (card + number) % 400) * 10**9, "covered": not last or card % 9,
            }
        )  # fmt: skip
    return made


def production(folder: Path, cards: int, days: int, fillings: int) -> Service:
    """A production of rows alone: a projection without its journal."""
    service = begun(folder / "bench.db")
    service.clock = lambda: FIRST + timedelta(days=days)
    card = {
        "status": "exposed", "holds": "", "uncovered": "", "next": "", "who": "", "rank": 0,
        "visiting": False, "last": "", "facts": 0, "state": b'{"card_id": ""}', "fold_version": 0,
        "capacity_bytes": 10**12,
    }  # fmt: skip
    with service.store.writing() as conn:
        ids = [f"c-{n}" for n in range(cards)]
        conn.execute(insert(t.Subject), [{"id": one, "kind": "card"} for one in ids])
        named = [card | {"id": one, "label": f"S-{n:04}"} for n, one in enumerate(ids)]
        conn.execute(insert(t.Card), named)
        for number in range(cards):
            made = rolls(number, days, fillings)
            made = [{**one, "covered": bool(one["covered"])} for one in made]
            conn.execute(insert(t.Roll), made)
            copies = [
                {"roll": one["id"], "drive": drive, "finished": "", "finished_at": one["closed_at"],
                 "rank": 2, "sound": True, "bytes": one["bytes"]}
                for one in made for drive in ("D-1", "D-2")
            ]  # fmt: skip
            conn.execute(insert(t.Copy), copies)
    return service


def measure(name: str, work: Callable[[], Any]) -> None:
    """Run it, and print what it took."""
    took = []
    for _ in range(RUNS):
        started = time.perf_counter()
        work()
        took.append((time.perf_counter() - started) * 1e3)
    print(f"{name:52} median {statistics.median(took):7.0f} ms, slowest {max(took):7.0f} ms")


def compare(file: Path) -> None:
    """The same rows, counted by DuckDB, as far as it is installed."""
    try:
        import duckdb  # noqa: PLC0415
    except ImportError:
        print("DuckDB is not installed: nothing to compare with")
        return
    db = duckdb.connect()
    roll, copy = (_columns(file, name) for name in ("roll", "copy"))
    db.execute("CREATE TABLE roll (card TEXT, camera TEXT, closed_at BIGINT, bytes BIGINT)")
    db.execute("CREATE TABLE copy (finished_at BIGINT, bytes BIGINT)")
    for name, found in (("roll", roll), ("copy", copy)):
        csv = file.with_name(f"{name}.csv")
        csv.write_text("\n".join(",".join(map(str, row)) for row in found))
        db.execute(f"COPY {name} FROM '{csv}' (HEADER false)")
    day = "closed_at // 86400000000"
    for name, asked in (
        ("bytes by card", "SELECT card, count(*), sum(bytes) FROM roll GROUP BY card"),
        ("bytes by day and camera", f"SELECT {day}, camera, sum(bytes) FROM roll GROUP BY ALL"),
        (
            "copied by day",
            "SELECT finished_at // 86400000000, sum(bytes) FROM copy GROUP BY ALL",
        ),
    ):
        measure(f"DuckDB: {name}", lambda asked=asked: db.execute(asked).fetchall())


def _columns(file: Path, name: str) -> list[Any]:
    from tracker.store.engine import raw_sqlite  # noqa: PLC0415

    wanted = {
        "roll": "SELECT card, camera, closed_at, bytes FROM roll",
        "copy": "SELECT finished_at, bytes FROM copy",
    }
    raw = raw_sqlite(file)
    try:
        return list(raw.execute(wanted[name]))
    finally:
        raw.close()


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(description="What the figures cost.")
    parser.add_argument("--cards", type=int, default=500)
    parser.add_argument("--days", type=int, default=200)
    parser.add_argument("--fillings", type=int, default=2)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        service = production(Path(folder), given.cards, given.days, given.fillings)
        print(f"{given.cards * given.days * given.fillings:,} rolls on {given.cards} cards")
        month = lambda: rotation_page.rotation(service, None, 30)  # noqa: E731
        every = lambda: rotation_page.rotation(service, None, None)  # noqa: E731
        measure("writes and wear: read", lambda: wear_page.cards_worn(service))
        measure("writes and wear: with both figures", lambda: wear_figures(service))
        measure("rotation, 30 days: read", month)
        measure("rotation, all days: read", every)
        measure("rotation, all days: with its figure", lambda: rotation_drawn(every()))
        measure("data: read", lambda: data_page.data_seen(service))
        measure("data: with three figures", lambda: data_figures(service))
        client = create_app(service, {}.get).test_client()
        client.set_cookie(COOKIE, people.let_in(service, "Pat", "production office", "a bench"))
        for path in ("/office/wear", "/office/rotation", "/office/rotation.json?days=all"):
            size = len(client.get(path).data) / 1e3
            measure(f"{path} ({size:,.0f} kB)", lambda path=path: client.get(path))
        compare(Path(folder) / "bench.db")


if __name__ == "__main__":
    main()
