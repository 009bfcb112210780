"""The rows that were stepped to are the rows that a rebuild would make, after every batch.

Facts that no crew would log in this order, through the services: single ones mostly, so that
stepping is used, and some at once. 100 journals on SQLite, 25 on PostgreSQL; 20 times as many with
HYPOTHESIS_PROFILE=long.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.services.happenings import BEGIN, Happening, Obj, Teller, happenings, tell
from tracker.domain.errors import CardwrightError
from tracker.domain.rule import BackupRule
from tracker.services.auditing import Audit, audit, rebuild
from tracker.services.logging import Said, log_history, log_live
from tracker.services.production import set_up
from tracker.services.service import Service, Who
from tracker.store import queries
from tracker.store.coverage import refresh
from tracker.store.engine import Store

PROFILE = os.environ.get("HYPOTHESIS_PROFILE", "quick")
EXAMPLES = {"sqlite": 100, "postgresql": 25}
TIMES = 20 if PROFILE == "long" else 1
CART = Who(by="kim", reader=True)


def run(dialect: str) -> settings:
    return settings(
        max_examples=EXAMPLES[dialect] * TIMES,
        deadline=None,
        derandomize=PROFILE == "quick",
        suppress_health_check=list(HealthCheck),
    )


Story = list[tuple[Happening, bool, bool]]
"""What happens, whether it is said live, and whether at once with what comes next."""


@dataclass
class Clock:
    now: datetime

    def __call__(self) -> datetime:
        return self.now


@dataclass
class Told:
    """A production that hears of facts in batches, and is looked at after each."""

    service: Service
    clock: Clock
    lines: list[str] = field(default_factory=list)

    def hear(self, batch: Sequence[Obj], *, live: bool) -> None:
        """What is refused is said again one by one, and then left."""
        said = [Said(obj) for obj in batch]
        try:
            if live:
                log_live(self.service, said, who=CART)
            else:
                log_history(self.service, said)
            self.lines.append(f"-- {'live' if live else 'history'}")
            self.lines += [line(obj) for obj in batch]
        except CardwrightError:
            for obj in batch if len(batch) > 1 else ():
                self.hear([obj], live=live)

    def mishaps(self) -> list[tuple[str, str, str]]:
        with self.service.store.reading() as conn:
            return [(m.card, m.kind, m.fact) for m in queries.mishaps(conn)]

    def story(self, found: Audit) -> str:
        """What was logged, and where the rows are wrong after it."""
        wrong = [*found.findings, *(found.differences or ())]
        return "\n".join(["", *self.lines, *map(str, wrong)])


def line(obj: Obj) -> str:
    """A fact on one line, for people who look for what is wrong."""
    at = obj["occurred_at"][11:16]
    words = [f"{k}={str(v)[:8]}" for k, v in obj.items() if k not in ("id", "event", "occurred_at")]
    return f"{at} {obj['event']} {obj['id'][:8]} {' '.join(words)}"


def begin(store: Store, days: int) -> Told:
    """days: from when the production is set up until what is told begins; less than 0: after."""
    clock = Clock(BEGIN - timedelta(days=days))
    service = Service(store, clock)
    set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5), BackupRule(2))
    return Told(service, clock)


def agree(store: Store, story: Story, days: int = 1) -> None:
    """After each batch of a story, and after a rebuild, the rows are those of the journal."""
    told = begin(store, days)
    teller = Teller(told.mishaps)
    waiting: list[Obj] = teller.inventory()
    told.hear(waiting, live=False)
    waiting = []
    for number, (happening, live, with_next) in enumerate(story, start=1):
        waiting += tell(teller, happening)
        if not waiting or (with_next and number < len(story)):
            continue
        told.clock.now = max(told.clock.now, teller.now)
        pieces = [waiting] if with_next else [[obj] for obj in waiting]
        for piece in pieces:
            told.hear(piece, live=live)
            found = audit(told.service)
            assert found.sound, told.story(found)
        waiting = []
    assert rebuild(told.service) == []
    with store.writing() as conn:
        assert refresh(conn, told.service.around(conn).context.rules) == set()
    assert audit(told.service).sound


STORIES = st.lists(
    st.tuples(happenings, st.booleans(), st.sampled_from((False, False, False, True))),
    min_size=1,
    max_size=25,
)
DAYS = st.sampled_from((1, -2))


@run("sqlite")
@given(story=STORIES, days=DAYS)
def test_on_sqlite(new_store: Callable[..., Store], story: Story, days: int) -> None:
    with closing(new_store("sqlite")) as store:
        agree(store, story, days)


@run("postgresql")
@given(story=STORIES, days=DAYS)
def test_on_postgresql(new_store: Callable[..., Store], story: Story, days: int) -> None:
    with closing(new_store("postgresql")) as store:
        agree(store, story, days)
