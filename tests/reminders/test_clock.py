"""The clock that wakes us: it ticks, it goes on, it notices that the time of day was set."""

from __future__ import annotations

import logging
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import Queue
from threading import Event, Thread
from threading import enumerate as threads
from typing import Any

import pytest
from freezegun import freeze_time
from freezegun.api import FrozenDateTimeFactory

from tracker.reminders.clock import Clock

ROOT = Path(__file__).parents[2]
SIX = datetime(2026, 5, 22, 18, 0, tzinfo=UTC)
PATIENCE_S = 30
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


class Hands:
    """The clock that nobody sets, in seconds; turned by a test."""

    def __init__(self) -> None:
        self.at_s = 1000.0

    def __call__(self) -> float:
        return self.at_s


@pytest.fixture
def frozen() -> Iterator[FrozenDateTimeFactory]:
    with freeze_time(SIX) as time:
        assert isinstance(time, FrozenDateTimeFactory)
        yield time


@pytest.fixture
def hands() -> Hands:
    return Hands()


Begin = Callable[..., Clock]


def tick(ticks: Queue[Any], clock: Clock) -> Any:
    """The next tick, once it has ended: until then no other one begins."""
    at = ticks.get(timeout=PATIENCE_S)
    # Asking waits for the scheduler, which counts a call only after it has handed it on.
    clock.next_at()
    for _ in range(10_000):
        if not any(clock._scheduler._executors["default"]._instances.values()):
            return at
        Event().wait(0.001)
    pytest.fail("the tick does not end")


@pytest.fixture
def begin(hands: Hands) -> Iterator[Begin]:
    """Starts clocks, whose watch only looks when a test says so, and stops them."""
    started: list[Clock] = []

    def start(work: Callable[[datetime], None], **other: Any) -> Clock:
        own: dict[str, Any] = {"look_every_s": 3600, "monotonic": hands} | other
        clock = Clock(work, **own)
        clock.start()
        started.append(clock)
        return clock

    yield start
    for clock in started:
        clock.stop()


def test_it_ticks_at_once_and_says_when_it_ticks_next(
    frozen: FrozenDateTimeFactory, begin: Begin
) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put)
    assert tick(ticks, clock) == SIX
    assert clock.next_at() == SIX + MINUTE


@pytest.mark.parametrize("back", [timedelta(seconds=3), HOUR, timedelta(days=365)])
def test_set_back_it_would_sleep_that_long_and_the_watch_wakes_it(
    frozen: FrozenDateTimeFactory,
    begin: Begin,
    hands: Hands,
    caplog: pytest.LogCaptureFixture,
    back: timedelta,
) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put)
    tick(ticks, clock)
    frozen.move_to(SIX - back)
    assert clock.next_at() == SIX + MINUTE
    clock.look()
    assert tick(ticks, clock) == SIX - back
    assert clock.next_at() == SIX - back + MINUTE
    assert f"The time of day was set back by {back.total_seconds():.0f} s." in caplog.text
    clock.look()
    assert clock.next_at() == SIX - back + MINUTE
    assert caplog.text.count("The time of day was set") == 1


def test_set_forward_or_after_a_sleep_it_ticks_once_for_all_that_went_by(
    frozen: FrozenDateTimeFactory, begin: Begin
) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put)
    tick(ticks, clock)
    later = SIX + 8 * HOUR + timedelta(seconds=30)
    frozen.move_to(later)
    clock.look()
    assert tick(ticks, clock) == later
    assert clock.next_at() == SIX + 8 * HOUR + MINUTE
    clock.stop()
    assert ticks.empty()


def test_the_watch_looks_by_itself(frozen: FrozenDateTimeFactory, begin: Begin) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put, look_every_s=0.01)
    tick(ticks, clock)
    frozen.move_to(SIX - HOUR)
    assert tick(ticks, clock) == SIX - HOUR


def test_time_that_goes_by_as_it_should_wakes_nobody(
    frozen: FrozenDateTimeFactory, begin: Begin, hands: Hands
) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put)
    tick(ticks, clock)
    for _ in range(8):
        frozen.tick(5)
        hands.at_s += 5.1
        clock.look()
    assert clock.next_at() == SIX + MINUTE
    assert ticks.empty()


def test_work_may_live_at_another_time_than_the_machine(
    frozen: FrozenDateTimeFactory, begin: Begin
) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put, now=lambda: SIX - 365 * 24 * HOUR)
    assert tick(ticks, clock) == SIX - 365 * 24 * HOUR
    assert clock.next_at() == SIX + MINUTE
    clock.look()
    assert ticks.empty()


def test_a_tick_that_is_overdue_comes_now_whatever_the_reason(
    frozen: FrozenDateTimeFactory, begin: Begin, hands: Hands
) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put)
    tick(ticks, clock)
    clock._job.modify(next_run_time=SIX + HOUR)
    frozen.tick(91)
    hands.at_s += 91
    clock.look()
    assert tick(ticks, clock) == SIX + timedelta(seconds=91)


def test_a_tick_that_fails_is_logged_and_the_next_one_comes(
    frozen: FrozenDateTimeFactory, begin: Begin, caplog: pytest.LogCaptureFixture
) -> None:
    ticks: Queue[datetime] = Queue()

    def work(now: datetime) -> None:
        ticks.put(now)
        raise ZeroDivisionError("no such card")

    clock = begin(work)
    tick(ticks, clock)
    frozen.tick(60)
    clock.look()
    tick(ticks, clock)
    clock.stop()
    failed = [one for one in caplog.records if one.levelno == logging.ERROR]
    assert [one.getMessage() for one in failed] == [
        "A tick of the clock failed; the next one comes."
    ] * 2
    assert "no such card" in caplog.text


def test_a_stop_finishes_what_runs_and_only_one_runs_at_a_time(
    frozen: FrozenDateTimeFactory, begin: Begin, hands: Hands, caplog: pytest.LogCaptureFixture
) -> None:
    begun, known, story = Event(), Event(), []

    def work(_now: datetime) -> None:
        story.append("begun")
        begun.set()
        assert known.wait(PATIENCE_S)
        assert clock._ended.wait(PATIENCE_S)
        # Long enough for a stop that does not wait.
        Event().wait(0.1)
        story.append("done")

    def stop() -> None:
        clock.stop()
        story.append("stopped")

    clock = begin(work)
    known.set()
    assert begun.wait(PATIENCE_S)
    for _ in range(3):
        frozen.tick(600)
        hands.at_s += 600
        clock.look()
    stopping = Thread(target=stop)
    stopping.start()
    stopping.join(PATIENCE_S)
    assert story == ["begun", "done", "stopped"]
    assert caplog.text == ""
    assert clock.next_at() is None


def test_what_is_wanted_soon_comes_now_or_right_after_what_runs(
    frozen: FrozenDateTimeFactory, begin: Begin
) -> None:
    begun: Queue[int] = Queue()
    may_end: Queue[None] = Queue()

    def work(_now: datetime) -> None:
        begun.put(1)
        may_end.get(timeout=PATIENCE_S)

    clock = begin(work)
    begun.get(timeout=PATIENCE_S)
    for _ in range(3):
        clock.soon()
    may_end.put(None)
    may_end.put(None)
    tick(begun, clock)
    assert begun.empty()
    clock.soon()
    may_end.put(None)
    tick(begun, clock)
    assert clock.next_at() == SIX + MINUTE


def test_started_twice_it_runs_once_and_it_can_be_started_again(
    frozen: FrozenDateTimeFactory, begin: Begin
) -> None:
    ticks: Queue[datetime] = Queue()
    clock = begin(ticks.put)
    clock.start()
    assert [one.name for one in threads()].count("clock watch") == 1
    assert [one.name for one in threads()].count("APScheduler") == 1
    clock.stop()
    clock.stop()
    assert ticks.get_nowait() == SIX
    assert ticks.empty()
    clock.start()
    assert tick(ticks, clock) == SIX


def test_importing_it_starts_nothing() -> None:
    told = subprocess.run(
        [
            sys.executable, "-W", "error", "-c",
            "import threading, tracker.reminders.clock, tracker.bootstrap; "
            "print(threading.active_count())",
        ],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (told.stdout, told.stderr) == ("1\n", "")
