"""A production on disk, and a service that can be killed and started again quickly."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from tests.durability.crew import CARDS
from tracker.bootstrap import opened
from tracker.config import Setting, Settings
from tracker.domain.rule import BackupRule
from tracker.services import acts_card, acts_day, people
from tracker.services.production import set_up
from tracker.services.service import Who

ROOT = Path(__file__).parents[2]
GB = 10**9


@dataclass(frozen=True)
class Place:
    """A production: its folder, its database if not there, and a token that may log."""

    folder: Path
    database: str | None
    token: str

    @property
    def settings(self) -> Settings:
        other = None if self.database is None else Setting(self.database, "a test")
        return Settings(Setting(str(self.folder), "a test"), other)


def begin_at(folder: Path, database: str | None) -> Place:
    """A production with ten cards, one camera."""
    other = None if database is None else Setting(database, "a test")
    with opened(Settings(Setting(str(folder), "a test"), other), new=True) as service:
        set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5), BackupRule(2))
        session = people.let_in(service, "Kim", "data manager", "a test")
        kim = people.session_of(service, session)
        assert kim is not None
        who = Who(by=kim.id)
        acts_day.set_camera(service, who, "A", "main", slots=len(CARDS))
        for label in CARDS:
            acts_card.register_card(service, who, label, "2.5in SSD", 1000 * GB)
        return Place(folder, database, people.make_token(service, kim, "test", "log", None))


@pytest.fixture(params=["sqlite", "postgresql"])
def place(
    request: pytest.FixtureRequest, tmp_path: Path, postgres_url: Callable[..., str]
) -> Place:
    database = postgres_url(migrated=False) if request.param == "postgresql" else None
    return begin_at(tmp_path / "data", database)


class Served:
    """A running service: its port, and how it ends."""

    def __init__(self, forker: Forker, child: int, port: int) -> None:
        self._forker = forker
        self.child = child
        self.port = port

    def kill(self) -> None:
        os.kill(self.child, signal.SIGKILL)

    def stop(self) -> None:
        os.kill(self.child, signal.SIGTERM)

    def ended(self) -> int:
        """Wait for its end; minus the signal that ended it, or its exit code."""
        while True:
            told = self._forker.line()
            if told.startswith('{"ended"'):
                return int(json.loads(told)["ended"])


class Forker:
    """Starts services from one process that has imported everything."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.durability.forking"],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )

    def line(self) -> str:
        assert self.process.stdout is not None
        told = self.process.stdout.readline()
        assert told, "the process that starts services has ended"
        return told

    def serve(self, place: Place, die: dict[str, Any] | None = None) -> Served:
        """Start one, and wait until it takes connections."""
        environ = {} if place.database is None else {"CARDWRIGHT_DATABASE": place.database}
        order = {"data": str(place.folder), "die": die, "environ": environ}
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(order) + "\n")
        self.process.stdin.flush()
        child, port = 0, None
        while not child or port is None:
            told = self.line()
            found = re.match(r"Serving on http://127\.0\.0\.1:(\d+)", told)
            if found:
                port = int(found[1])
            elif told.startswith('{"child"'):
                child = json.loads(told)["child"]
            else:
                pytest.fail(f"it did not start: {told}")
        return Served(self, child, port)

    def end(self) -> None:
        self.process.kill()
        self.process.communicate()


@pytest.fixture(scope="module")
def forker() -> Iterator[Forker]:
    made = Forker()
    yield made
    made.end()
