"""Two services on the same data at once: one is killed, the other goes on, and all is there."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from tests.durability.conftest import Forker, Place
from tests.durability.crew import Shift, crew
from tests.durability.test_killed import (
    KILLED,
    a_quiet_end,
    everything_is_logged_once,
    journal_of,
    nothing_is_lost,
)


@pytest.fixture(scope="module")
def other() -> Iterator[Forker]:
    made = Forker()
    yield made
    made.end()


def test_two_processes_on_one_database(place: Place, forker: Forker, other: Forker) -> None:
    people, before = crew(seed=4), len(journal_of(place))
    half = len(people) // 2
    staying = other.serve(place)
    steady = Shift(people[half:], staying.port, place.token)
    for _ in range(3):
        killed = forker.serve(place)
        shift = Shift(people[:half], killed.port, place.token)
        assert shift.begun.wait(60)
        assert steady.begun.wait(60)
        time.sleep(0.1)
        killed.kill()
        assert killed.ended() == KILLED
        shift.wait()
    steady.stop.set()
    steady.wait()
    staying.stop()
    assert staying.ended() == 0
    nothing_is_lost(place, people)
    a_quiet_end(place, forker, people)
    everything_is_logged_once(place, people, before)
