"""Killed by SIGKILL under twenty writers: nothing acknowledged is missing, nothing is doubled."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Sequence

import pytest
from sqlalchemy import select

from tests.durability.conftest import Forker, Place
from tests.durability.crew import Person, Shift, crew
from tests.durability.forking import POINTS
from tracker.bootstrap import opened
from tracker.services.auditing import audit
from tracker.store import tables as t
from tracker.store.audit import verify_chains

IN_CI = 50
LONG = 1000
KILLED = -9


def journal_of(place: Place) -> list[str]:
    """Every fact id in the journal, which is whole."""
    with opened(place.settings) as service, service.store.reading() as conn:
        assert list(verify_chains(conn)) == []
        return list(conn.scalars(select(t.Entry.fact_id)))


def nothing_is_lost(place: Place, people: Sequence[Person]) -> None:
    """Each acknowledged fact is there once; what waits is there as a whole or not at all."""
    assert [said for person in people for said in person.refused] == []
    kept = Counter(journal_of(place))
    assert [fact_id for fact_id, times in kept.items() if times > 1] == []
    missing = [i for person in people for i in person.acknowledged if i not in kept]
    assert missing == []
    for person in people:
        waiting = [fact["id"] in kept for fact in person.waiting]
        assert all(waiting) or not any(waiting)


def everything_is_logged_once(place: Place, people: Sequence[Person], before: int) -> None:
    """After the last shift ended in peace: exactly what was acknowledged, and sound."""
    assert [person.waiting for person in people if person.waiting] == []
    said = sum(len(person.acknowledged) for person in people)
    assert len(journal_of(place)) == before + said
    with opened(place.settings) as service:
        assert audit(service).sound


def a_quiet_end(place: Place, forker: Forker, people: Sequence[Person]) -> None:
    """Once more, and stopped as one stops it: what waits is sent again, all is answered."""
    served = forker.serve(place)
    shift = Shift(people, served.port, place.token)
    assert shift.begun.wait(60)
    shift.stop.set()
    shift.wait()
    served.stop()
    assert served.ended() == 0


def killed_at_random(place: Place, forker: Forker, kills: int, seed: int) -> None:
    chance, people = random.Random(seed), crew(seed)
    before = len(journal_of(place))
    for _ in range(kills):
        served = forker.serve(place)
        shift = Shift(people, served.port, place.token)
        assert shift.begun.wait(60)
        time.sleep(chance.uniform(0, 0.12))
        served.kill()
        assert served.ended() == KILLED
        shift.wait()
        nothing_is_lost(place, people)
    a_quiet_end(place, forker, people)
    everything_is_logged_once(place, people, before)


def killed_at_points(place: Place, forker: Forker, kills: int, seed: int) -> None:
    chance, people = random.Random(seed), crew(seed)
    before = len(journal_of(place))
    for number in range(kills):
        die = {"at": POINTS[number % len(POINTS)], "nth": chance.randint(1, 25)}
        served = forker.serve(place, die)
        shift = Shift(people, served.port, place.token)
        assert served.ended() == KILLED
        shift.wait()
        nothing_is_lost(place, people)
    a_quiet_end(place, forker, people)
    everything_is_logged_once(place, people, before)


def test_killed_at_random(place: Place, forker: Forker) -> None:
    killed_at_random(place, forker, IN_CI, seed=1)


def test_killed_at_named_points(place: Place, forker: Forker) -> None:
    killed_at_points(place, forker, IN_CI, seed=2)


@pytest.mark.long
def test_killed_at_random_a_thousand_times(place: Place, forker: Forker) -> None:
    killed_at_random(place, forker, LONG, seed=random.randrange(2**32))


@pytest.mark.long
def test_killed_at_named_points_a_thousand_times(place: Place, forker: Forker) -> None:
    killed_at_points(place, forker, LONG, seed=random.randrange(2**32))
