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
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.services.happenings import BEGIN, PROOFS, Happening, Obj, Teller, happenings, tell
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


# Stories in which something hangs on what was taken back, or on what comes first


@pytest.fixture
def say(store: Store) -> Callable[..., Obj]:
    """Say one thing of the production, as history, and look whether the rows agree."""
    told = begin(store, days=1)
    teller = Teller(told.mishaps)
    told.hear(teller.inventory(), live=False)

    def say(event: str, subject: str = "", minutes_ago: int = 0, /, **fields: Any) -> Obj:
        obj = teller.tell(event, subject, minutes_ago, **fields)
        if event == "voided":
            obj["target"] = dict(teller.about[subject])[fields["target"]]
        told.clock.now = max(told.clock.now, teller.now)
        log_history(told.service, [Said(obj)])
        found = audit(told.service)
        assert found.sound, told.story(found)
        return obj

    return say


def back_up(say: Callable[..., Obj], card: str, minutes_ago: int = 0) -> None:
    say("loaded", card, minutes_ago, camera="A", roll="A001", formatted=True)
    say("pulled", card, minutes_ago)
    for drive in ("RAID", "SHUTTLE"):
        level = {"level": "checksummed", "proof": PROOFS[0]}
        say("copy_checked", card, minutes_ago, drive=drive, **level)


def test_a_mirror_whose_main_roll_was_never_loaded_after_all(say: Callable[..., Obj]) -> None:
    back_up(say, "S-014")
    say("loaded", "S-015", camera="A", roll="A001", **{"as": "mirror"})
    say("pulled", "S-015")
    say("voided", "S-014", target="loaded", reason="another card")


def test_a_rule_that_turns_out_to_be_the_first_one(say: Callable[..., Obj]) -> None:
    """It counts from the start, in the place of that which was set when the service was."""
    days = 24 * 60
    back_up(say, "S-014", 3 * days)
    say("formatted", "S-014", 3 * days, where="camera")
    say("rule_set", "", 2 * days, copies=3, level="checksummed")


def test_a_drive_whose_registration_is_taken_back_while_copies_are_on_it(
    say: Callable[..., Obj],
) -> None:
    back_up(say, "S-014")
    say("voided", "RAID", target="drive_registered", reason="a slip")
    say("drive_lost", "RAID")


def test_a_card_whose_last_fact_is_taken_back_after_its_registration(
    say: Callable[..., Obj],
) -> None:
    say("noted", "S-015", text="a remark")
    say("voided", "S-015", target="registered", reason="not ours")
    say("voided", "S-015", target="noted", reason="not ours")
