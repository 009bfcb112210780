"""One fact over HTTP, beside the same server's empty address in the same run.

    python -m tests.bench.http

A server of its own process, on a SQLite file; clients are threads of this one, each with a
connection that stays open, and each sends its next request when the last one is answered. All
share the cores of one machine. Prints medians and 95th percentiles in milliseconds.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time as timing
from datetime import UTC, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

from tracker.bootstrap import opened
from tracker.config import Setting, Settings
from tracker.domain.rule import BackupRule
from tracker.services import acts_card, acts_day, people
from tracker.services.production import set_up
from tracker.services.service import Who, new_id

ROOT = Path(__file__).parents[2]
CARDS = 40
GB = 10**9


def _production(data: Path) -> str:
    """A production with some cards; a token that may log."""
    with opened(Settings(Setting(str(data), "a bench")), new=True) as service:
        set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5), BackupRule(2))
        session = people.let_in(service, "Kim", "data manager", "a bench")
        kim = people.session_of(service, session)
        assert kim is not None
        who = Who(by=kim.id)
        acts_day.set_camera(service, who, "A", "main", slots=CARDS)
        for number in range(CARDS):
            acts_card.register_card(service, who, f"S-{number:03}", "2.5in SSD", 1000 * GB)
        return people.make_token(service, kim, "bench", "log", None)


def _fact(number: int) -> bytes:
    at = datetime.now(UTC).isoformat()
    said = {"id": new_id(), "event": "noted", "card": f"S-{number % CARDS:03}", "text": "looked at"}
    return json.dumps({**said, "occurred_at": at}).encode()


class Client(threading.Thread):
    """Sends requests one after the other, and keeps how long each took, in seconds."""

    def __init__(self, port: int, token: str, number: int, count: int, path: str) -> None:
        super().__init__()
        self.at, self.path, self.count, self.number = port, path, count, number
        self.headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        self.took: list[float] = []

    def run(self) -> None:
        conn = http.client.HTTPConnection("127.0.0.1", self.at)
        for turn in range(self.count):
            body = _fact(self.number + turn) if self.path.endswith("facts") else None
            begun = timing.perf_counter()
            conn.request("POST" if body else "GET", self.path, body, self.headers)
            answer = conn.getresponse()
            answer.read()
            self.took.append(timing.perf_counter() - begun)
            assert answer.status in (200, 201), answer.status
        conn.close()


def _measure(port: int, token: str, clients: int, count: int, path: str) -> str:
    running = [Client(port, token, number, count, path) for number in range(clients)]
    for client in running:
        client.start()
    for client in running:
        client.join()
    took = sorted(t for client in running for t in client.took)
    median = statistics.median(took) * 1e3
    return f"median {median:6.2f} ms, p95 {took[int(len(took) * 0.95)] * 1e3:6.2f} ms"


def main() -> None:
    """Measure, and print."""
    with tempfile.TemporaryDirectory() as folder:
        token = _production(Path(folder))
        server = subprocess.Popen(
            [sys.executable, "-m", "tracker", "serve", "--data", folder, "--port", "0"],
            cwd=ROOT, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        assert server.stdout is not None
        found = re.search(r":(\d+)\.", server.stdout.readline())
        assert found
        port = int(found[1])
        try:
            _measure(port, token, 1, 50, "/api/v1/facts")
            for clients, count in ((1, 300), (20, 50)):
                for path in ("/healthz", "/api/v1/facts"):
                    told = _measure(port, token, clients, count, path)
                    print(f"{clients:2} clients  {path:15} {told}")
        finally:
            server.terminate()
            server.wait(30)


if __name__ == "__main__":
    main()
