"""Four workers at once, by two clocks, on each database: nothing is decided or sent twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

from tests.reminders.post import Box, post
from tests.services.harbour import Clock
from tracker.reminders.notices import tick
from tracker.reminders.outbox import deliver
from tracker.services.service import Service
from tracker.store import reminder_tables as r
from tracker.store.engine import Store, open_store

WORKERS = 4
ROUNDS = 12
APART = timedelta(seconds=90)
"""By how much the clocks of the workers differ."""


def test_four_workers_and_two_clocks_tell_everything_once(
    dialect: str, new_store: Callable[..., Store]
) -> None:
    told = post(new_store(dialect))
    for number, label in enumerate(("S-014", "S-015", "S-016")):
        told.shot(label, "B", f"B00{number}")
    told.missing("S-016")
    with told.service.store.reading() as conn:
        address = conn.engine.url.render_as_string(hide_password=False)
    workers = [Service(open_store(address), Clock()) for _ in range(WORKERS)]
    box = Box()

    def work(number: int) -> None:
        now = told.clock.now + (number % 2) * APART
        tick(workers[number], now)
        deliver(workers[number], now, {"mail": box})

    with ThreadPoolExecutor(WORKERS) as threads:
        for _ in range(ROUNDS):
            told.clock.wait(41)
            list(threads.map(work, range(WORKERS)))
            if len(box.letters) == 9:
                told.copied("S-015")
    for worker in workers:
        worker.store.close()
    told.clock.wait(3)
    told.tick()
    told.deliver()
    times = Counter(letter.id for letter in box.letters)
    assert set(times.values()) == {1}
    sent = [row for row in told.rows(r.NoticeMessage) if row.channel == "mail"]
    assert {row.id for row in sent if row.state == "sent"} >= set(times)
    turns = Counter(
        (row.spell, row.person, row.channel, turn)
        for row in told.rows(r.NoticeTurn)
        for turn in range(row.first, row.turn + 1)
    )
    assert set(turns.values()) == {1}
    assert len(times) > 10
