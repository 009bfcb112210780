"""The clock that wakes us. It decides nothing: what is due stands in the tables.

A scheduler sleeps until a time of the day. Set that time back by an hour, and it sleeps an hour
too long. So a watch looks at a clock that nobody sets (the monotonic one), and wakes it.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from threading import Event, Lock, Thread
from typing import Any

from apscheduler.schedulers.background import BackgroundScheduler

EVERY_S = 60
LOOK_EVERY_S = 5.0
DRIFT_S = 2.0
"""By how much the time of day may move against the monotonic clock and count as not set."""
OVERDUE = 1.5
"""After how many intervals without a tick it is woken, whatever the reason."""

log = logging.getLogger(__name__)


def utc_now() -> datetime:
    """The time of this machine, aware."""
    return datetime.now(UTC)


class Clock:
    """Calls `work` with the time, at once and then every so often, until it is stopped.

    One call at a time; one that takes long makes the next ones wait, and they count as one. What
    a call raises is logged, and the next one comes. It wakes by the time of this machine; now: the
    aware time that `work` is given. monotonic: seconds of a clock that nobody sets. Nothing runs
    before `start`.
    """

    def __init__(
        self,
        work: Callable[[datetime], None],
        *,
        every_s: int = EVERY_S,
        look_every_s: float = LOOK_EVERY_S,
        now: Callable[[], datetime] = utc_now,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self._work = work
        self._every_s = every_s
        self._look_every_s = look_every_s
        self._now = now
        self._monotonic = monotonic
        self._lock = Lock()
        self._job: Any = None
        self._turn = Lock()
        self._running = self._wanted = False
        self._ended = Event()
        self._began_s = self._offset_s = 0.0

    def start(self) -> None:
        """Begin; if it runs already, it goes on as it is."""
        with self._lock:
            if self._job is not None:
                return
            # That a tick takes longer than the interval is no news worth a line each minute.
            logging.getLogger("apscheduler").setLevel(logging.ERROR)
            self._began_s = self._monotonic()
            self._offset_s = self._offset()
            self._scheduler = BackgroundScheduler(timezone=UTC)
            self._job = self._scheduler.add_job(
                self._tick,
                "interval",
                seconds=self._every_s,
                next_run_time=utc_now(),
                coalesce=True,
                max_instances=1,
                misfire_grace_time=None,
            )
            self._scheduler.start()
            self._ended.clear()
            self._watch = Thread(target=self._keep_looking, name="clock watch", daemon=True)
            self._watch.start()

    def stop(self) -> None:
        """End; a call that runs is finished first. Not to be called by the work itself."""
        with self._lock:
            if self._job is None:
                return
            self._ended.set()
            self._watch.join()
            self._scheduler.shutdown(wait=True)
            self._job = None

    def soon(self) -> None:
        """Let the next call come now; while one runs, right after it."""
        with self._lock:
            if self._job is None:
                return
            with self._turn:
                if self._running:
                    self._wanted = True
                    return
            self._job.modify(next_run_time=utc_now())

    def next_at(self) -> datetime | None:
        """When the next call comes by the time of day; None if it is stopped."""
        job = self._job
        found = None if job is None else self._scheduler.get_job(job.id)
        at: datetime | None = None if found is None else found.next_run_time
        return at

    def look(self) -> None:
        """See whether the time of day was set, or a call is overdue; then it comes now."""
        moved_s = self._offset() - self._offset_s
        if abs(moved_s) > DRIFT_S:
            self._offset_s += moved_s
            way = "forward" if moved_s > 0 else "back"
            log.warning("The time of day was set %s by %.0f s.", way, abs(moved_s))
            self._wake()
        elif not self._running and self._waited_s() > OVERDUE * self._every_s:
            self._wake()

    def _wake(self) -> None:
        now, planned = utc_now(), self.next_at()
        if planned is None or planned > now + timedelta(seconds=self._every_s):
            self._job.modify(next_run_time=now)
        else:
            self._scheduler.wakeup()

    def _offset(self) -> float:
        return utc_now().timestamp() - self._monotonic()

    def _waited_s(self) -> float:
        return self._monotonic() - self._began_s

    def _keep_looking(self) -> None:
        while not self._ended.wait(self._look_every_s):
            try:
                self.look()
            except Exception:
                log.exception("The watch over the clock failed; it goes on.")

    def _tick(self) -> None:
        self._running = True
        while self._running:
            self._wanted = False
            self._call()
            with self._turn:
                self._running = self._wanted and not self._ended.is_set()

    def _call(self) -> None:
        self._began_s = self._monotonic()
        try:
            self._work(self._now())
        except Exception:
            log.exception("A tick of the clock failed; the next one comes.")
