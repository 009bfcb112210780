"""Whatever happens in whatever order, what is decided and told is what the oracle says.

Facts, ticks, rounds of the outbox, clocks that are set by a second or a year, two workers, a
channel that accepts, refuses, hangs or dies with us, and a process that ends between any two
statements. 300 runs of 50 steps; 5,000 with `-m long`. The oracle imports nothing of the project.
"""

from __future__ import annotations

import os
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import Connection, event, select, update

from tests.reminders.oracle import EXPOSED, MISSING, Card, Decided, Oracle, Way, read
from tests.reminders.post import Box, Died, post
from tests.services.harbour import CART, PROOF, Clock
from tracker.reminders import notices as ticking
from tracker.reminders import outbox as handing_on
from tracker.reminders.letters import Letter
from tracker.reminders.notices import tick
from tracker.reminders.outbox import deliver
from tracker.reminders.rules import RULES
from tracker.services import acts_camera, acts_card, acts_copies, notices
from tracker.services.people import person_called
from tracker.services.service import Service, Who
from tracker.store import people_tables as p
from tracker.store import quick
from tracker.store import reminder_tables as r
from tracker.store import tables as t
from tracker.store.engine import Store, open_store

LABELS = ("S-014", "S-015", "S-016")
LEE = Who(by="lee")
ONLY = {one.name: {"on": one.name in (EXPOSED, MISSING)} for one in RULES}
SET = {
    "production": {"clock_day_s": 24 * 3600, "rules": ONLY},
    "escalate_after_s": None,
}
STEPS_S = (1, 59, 3_600, 86_400, 31 * 86_400, 365 * 86_400)
WAITS_MIN = (1, 4, 9, 14, 16, 31, 120, 725)
THEN = st.sampled_from(("nothing", "a tick", "a tick and the outbox"))
ANSWERS = ("accepts", "refuses", "hangs", "dies", "accepts and dies", "refuses for good")


class Watched(Box):
    """Keeps who was told what at which time, and what the other worker did meanwhile."""

    def __init__(self) -> None:
        super().__init__()
        self.for_good: set[str] = set()

    meanwhile: Callable[[], None] | None = None
    on_letter: Callable[[Letter], None] | None = None
    on_try: Callable[[Letter], None] | None = None

    def send(self, letter: Letter) -> None:
        if self.meanwhile is not None:
            between, self.meanwhile = self.meanwhile, None
            between()
        before = len(self.letters)
        answer = self.answers[0] if self.answers else "accepts"
        if answer == "refuses for good":
            self.for_good.add(letter.id)
        if self.on_try is not None and "refuses" not in answer:
            self.on_try(letter)
        try:
            super().send(letter)
        finally:
            if len(self.letters) > before and self.on_letter is not None:
                self.on_letter(letter)


@contextmanager
def dying_after(store: Store, statements: int) -> Iterator[None]:
    """The process ends before the statement (or the commit) with this number."""
    left = statements
    driven = quick._driven

    def count(*_: object) -> None:
        nonlocal left
        left -= 1
        if left < 0:
            raise Died

    def counted(*given: Any, **more: Any) -> Any:
        count()
        return driven(*given, **more)

    engines = (store._writer, store._reader)
    quick._driven = counted
    for engine in engines:
        event.listen(engine, "before_cursor_execute", count)
        event.listen(engine, "commit", count)
    try:
        yield
    finally:
        quick._driven = driven
        for engine in engines:
            event.remove(engine, "before_cursor_execute", count)
            event.remove(engine, "commit", count)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Path:
    """A harbour with its people and its settings, that nobody has open."""
    file = tmp_path_factory.mktemp("machine") / "harbour.db"
    shutil.copy(sqlite_template, file)
    store = open_store(file)
    told = post(store, "Kim", "Lee", "Noor")
    notices.set_settings(told.service, None, SET)
    store.close()
    return file


class Machine(RuleBasedStateMachine):
    """One production, two workers. `true` goes on for ever; what they think it is may be set."""

    template: Path

    @initialize()
    def begins(self) -> None:
        self.folder = TemporaryDirectory(prefix="machine-")
        file = Path(self.folder.name) / "harbour.db"
        shutil.copy(self.template, file)
        self.clock = Clock(datetime(2026, 3, 2, 9, 0, tzinfo=UTC))
        self.workers = [Service(open_store(file), self.clock) for _ in range(2)]
        for worker in self.workers:
            event.listen(worker.store._writer, "connect", may_lose_power)
        self.skew = timedelta(0)
        self.box = Watched()
        self.box.on_letter = self.arrives
        self.box.on_try = lambda letter: self.may_have_heard(letter.to, letter.body)
        self.heard: set[Any] = set()
        self.may_know: set[Any] = set()
        self.oracle = Oracle({label: Card() for label in LABELS})
        self.rolls = 0
        self.roll_names: dict[str, str] = {}
        self.accepted: Counter[str] = Counter()
        self.wrong: list[str] = []
        self.superseded: set[str] = set()
        self.excused: Counter[str] = Counter()
        with self.workers[0].store.reading() as conn:
            self.names = pairs(conn, p.Person.id, p.Person.name)

    def teardown(self) -> None:
        if hasattr(self, "folder"):
            try:
                self.comes_to_rest()
            finally:
                for worker in self.workers:
                    worker.store.close()
                self.folder.cleanup()

    @property
    def now(self) -> datetime:
        """What the workers take the time to be."""
        return self.clock.now + self.skew

    # Time

    @rule(minutes=st.sampled_from(WAITS_MIN), then=THEN)
    def time_goes_by(self, minutes: int, then: str) -> None:
        self.clock.wait(minutes)
        self.then(then)

    @rule(seconds=st.sampled_from(STEPS_S), back=st.booleans(), then=THEN)
    def a_clock_is_set(self, seconds: int, back: bool, then: str) -> None:
        self.skew += timedelta(seconds=-seconds if back else seconds)
        self.then(then)

    @precondition(lambda self: self.skew)
    @rule()
    def the_clock_is_put_right(self) -> None:
        self.skew = timedelta(0)

    # Facts

    @precondition(lambda self: self.some(lambda card: card.roll is None))
    @rule(data=st.data(), minutes=st.sampled_from((1, 119, 120)), then=THEN)
    def a_card_is_shot(self, data: st.DataObject, minutes: int, then: str) -> None:
        label = data.draw(st.sampled_from(self.some(lambda card: card.roll is None)))
        card = self.oracle.cards[label]
        self.rolls += 1
        name = f"R{self.rolls:03d}"
        service = self.workers[0]
        acts_camera.load(service, LEE, label, "B", roll=name, formatted=True)
        self.clock.wait(1)
        acts_camera.pull(service, LEE, label, bytes_=10**9)
        card.roll, card.pulled = name, self.clock.now
        with service.store.reading() as conn:
            self.roll_names |= pairs(conn, t.Roll.id, t.Roll.name)
        self.clock.wait(minutes)
        self.then(then)

    @precondition(lambda self: self.some(lambda card: card.roll and not card.lost))
    @rule(data=st.data(), then=THEN)
    def a_card_is_copied(self, data: st.DataObject, then: str) -> None:
        label = data.draw(st.sampled_from(self.some(lambda card: card.roll and not card.lost)))
        card = self.oracle.cards[label]
        for drive in ("RAID", "SHUTTLE"):
            acts_copies.copy_checked(
                self.workers[0], CART, label, drive, "checksummed", proof=PROOF, roll=card.roll
            )
        card.roll = card.pulled = None
        self.clock.wait(1)
        with self.workers[0].store.reading() as conn:
            assert conn.scalar(select(t.Card.uncovered).where(t.Card.label == label)) == ""
        self.then(then)

    @precondition(lambda self: self.some(lambda card: card.roll))
    @rule(data=st.data(), then=THEN)
    def a_card_is_missing_or_found(self, data: st.DataObject, then: str) -> None:
        label = data.draw(st.sampled_from(self.some(lambda card: card.roll)))
        card = self.oracle.cards[label]
        if card.lost is None:
            acts_card.report_missing(self.workers[0], CART, label)
            card.lost = self.clock.now
        else:
            acts_card.found(self.workers[0], CART, label)
            card.lost = None
        self.clock.wait(1)
        self.then(then)

    def some(self, which: Callable[[Card], object]) -> list[str]:
        """The labels of the cards of which something is true."""
        return [label for label, card in self.oracle.cards.items() if which(card)]

    @precondition(lambda self: self.oracle.snoozed_until is None)
    @rule(minutes=st.sampled_from((20, 200, 3_000)))
    def somebody_says_later(self, minutes: int) -> None:
        until = self.clock.now + timedelta(minutes=minutes)
        lee = person_called(self.workers[0], "Lee")
        notices.snooze(self.workers[0], lee, until=until, reason="on a boat", rule=EXPOSED)
        self.oracle.snoozed_until = until

    # What the service does

    def then(self, what: str) -> None:
        """What comes at once after it: mostly the service looks."""
        if what != "nothing":
            tick(self.workers[self.rolls % 2], self.now)
            self.oracle.tick(self.now)
        if what == "a tick and the outbox":
            self.the_outbox(0, [])

    @rule(statements=st.integers(0, 22))
    def a_tick_that_dies(self, statements: int) -> None:
        service = self.workers[0]
        try:
            with dying_after(service.store, statements):
                tick(service, self.now)
        except Died:
            return
        self.oracle.tick(self.now)

    @rule(seconds=st.sampled_from((0, 1, -1, 3_600, -3_600)))
    def two_ticks_at_once(self, seconds: int) -> None:
        """The other one, whose clock goes otherwise, gets in between looking and writing."""
        decide = ticking.decide
        other = self.now + timedelta(seconds=seconds)

        def meanwhile(*given: Any) -> Any:
            ticking.decide = decide
            tick(self.workers[1], other)
            self.oracle.tick(other)
            return decide(*given)

        ticking.decide = meanwhile
        try:
            tick(self.workers[0], self.now)
        finally:
            ticking.decide = decide
        self.oracle.tick(self.now)

    @rule(worker=st.sampled_from((0, 1)), answers=st.lists(st.sampled_from(ANSWERS), max_size=3))
    def a_round(self, worker: int, answers: list[str]) -> None:
        self.the_outbox(worker, answers)

    def the_outbox(self, worker: int, answers: list[str]) -> None:
        self.box.answers = list(answers)
        try:
            deliver(self.workers[worker], self.now, {"mail": self.box})
        except Died:
            self.somebody_died()
        self.whatever_was_left_out_was_settled()
        if not answers:
            self.whatever_could_go_went()

    @rule(statements=st.integers(0, 60))
    def the_outbox_dies(self, statements: int) -> None:
        self.box.answers = []
        service = self.workers[0]
        try:
            with dying_after(service.store, statements):
                deliver(service, self.now, {"mail": self.box})
        except Died:
            self.somebody_died()
        self.whatever_was_left_out_was_settled()

    @rule(message=st.sampled_from((None, 0, 1, 2, 3)), seconds=st.sampled_from((0, 90, -90)))
    def two_at_the_outbox(self, message: int | None, seconds: int) -> None:
        """The other one gets in between: before a message is taken, or while an answer is due."""
        self.box.answers = []
        body, left = handing_on.body, message

        def other() -> None:
            now = self.now + timedelta(seconds=seconds)
            deliver(self.workers[1], now, {"mail": self.box})

        def meanwhile(content: Any) -> str:
            nonlocal left
            left = (left or 0) - 1
            if left < 0:
                handing_on.body = body
                other()
            return body(content)

        if message is None:
            self.box.meanwhile = other
        else:
            handing_on.body = meanwhile
        try:
            deliver(self.workers[0], self.now, {"mail": self.box})
        finally:
            handing_on.body, self.box.meanwhile = body, None
        self.whatever_was_left_out_was_settled()

    def whatever_was_left_out_was_settled(self) -> None:
        """Looked at right after a round of the outbox, before anything else is decided."""
        turns: dict[str, list[Decided]] = {}
        for one, message in self.turns():
            turns.setdefault(message, []).append(one)
        for row in self.messages():
            if row.state == "superseded" and row.id not in self.superseded:
                self.superseded.add(row.id)
                for one in turns.get(row.id, ()):
                    assert not self.oracle.is_to_be_told(one), one

    def whatever_could_go_went(self) -> None:
        """Right after a round in which the channel took everything."""
        waits = {
            row.id
            for row in self.messages()
            if row.state == "queued" or (row.state == "retried" and not self.is_soon(row.next_try))
        }
        for one, message in self.turns():
            if message in waits and self.oracle.is_to_be_told(one):
                assert not self.oracle.goes_now(one, self.now), one

    def is_soon(self, at: datetime) -> bool:
        return self.now < at <= self.now + timedelta(minutes=30)

    def somebody_died(self) -> None:
        """Whatever was accepted and is not marked as sent comes once more."""
        for row in self.messages():
            if row.state == "leased":
                self.excused[row.id] += 1
                if row.channel == "mail":
                    self.may_have_heard(self.names[row.person], row.body)

    # What must be true

    def arrives(self, letter: Letter) -> None:
        self.accepted[letter.id] += 1
        told = read(letter.body)
        if told.doubled or not (told.things or told.settled):
            self.wrong.append(letter.body)
        name = self.name(letter.to)
        self.heard |= self.spells_in(letter.to, letter.body)
        try:
            self.oracle.may_be_told(told, (name, "mail"), self.now)
        except AssertionError as error:
            # What a channel raises is the channel's own affair: it is looked at afterwards.
            self.wrong.append(str(error))
        newest: dict[Any, int] = {}
        for (key, number, way, turn, _), _message in self.turns():
            newest[key, number, way] = max(turn, newest.get((key, number, way), turn))
        for (key, number, way, turn, _), message in self.turns():
            overtaken = turn < newest[key, number, way]
            if message == letter.id and key in told.things and overtaken:
                self.wrong.append(f"{key}: an old notice went, and there is a newer one")

    def name(self, address: str) -> str:
        return address.split("@", maxsplit=1)[0].capitalize()

    def spells_in(self, address: str, body: str) -> set[Any]:
        """The spells that a letter tells of, each with who reads it."""
        spells = self.oracle.spells
        keys = [key for key in read(body).things if key in spells]
        return {(key, spells[key][-1].number, self.name(address)) for key in keys}

    def may_have_heard(self, address: str, body: str) -> None:
        self.may_know |= self.spells_in(address, body)

    def messages(self) -> list[Any]:
        with self.workers[0].store.reading() as conn:
            return list(conn.execute(select(r.NoticeMessage.__table__)))

    def turns(self) -> list[tuple[Decided, str]]:
        """What was decided, in the words of the oracle, each with its message."""
        s, k = r.NoticeSpell, r.NoticeTurn
        asked = select(
            s.subject, s.rule, s.number, s.about, k.person, k.channel, k.turn, k.first, k.message,
            s.id,
        ).join(s, s.id == k.spell)  # fmt: skip
        with self.workers[0].store.reading() as conn:
            rows = list(conn.execute(asked))
        found = []
        for row in rows:
            way: Way = (self.names[row.person], row.channel)
            key = (row.about, self.roll_of(row.subject), row.rule)
            found.append(((key, row.number, way, row.turn, row.first), row.message))
        return found

    def roll_of(self, subject: str) -> str:
        kind, _, rest = subject.partition("/")
        return self.roll_names[rest.split("/")[1]] if kind == "roll" else ""

    @invariant()
    def what_was_decided_is_what_the_oracle_says(self) -> None:
        if not hasattr(self, "oracle"):
            return
        assert Counter(one for one, _ in self.turns()) == Counter(self.oracle.decided)

    @invariant()
    def nothing_wrong_was_told(self) -> None:
        assert not getattr(self, "wrong", None), self.wrong

    @invariant()
    def what_counts_as_sent_was_accepted_and_what_is_dead_was_refused(self) -> None:
        if not hasattr(self, "oracle"):
            return
        for row in self.messages():
            if row.channel == "mail":
                assert row.state != "sent" or self.accepted[row.id]
            assert row.state != "dead" or row.id in self.box.for_good

    @invariant()
    def nothing_comes_twice_but_where_somebody_died(self) -> None:
        if not hasattr(self, "oracle"):
            return
        for message, count in self.accepted.items():
            assert count <= 1 + self.excused[message], f"{message} came {count} times"

    def comes_to_rest(self) -> None:
        """The channel works, time goes by: all that stands was told, and all that ended too."""
        self.box.answers, self.box.meanwhile = [], None
        with self.workers[0].store.writing() as conn:
            conn.execute(update(r.NoticeSnooze).values(ended_at=self.clock.now))
        self.oracle.snoozed_until = None
        self.skew = max(self.skew, timedelta(0))
        latest = max([s.opened for some in self.oracle.spells.values() for s in some] or [self.now])
        self.skew += max(timedelta(0), latest - self.now)
        for _ in range(5):
            self.clock.wait(31)
            tick(self.workers[1], self.now)
            self.oracle.tick(self.now)
            deliver(self.workers[1], self.now, {"mail": self.box})
        self.what_was_decided_is_what_the_oracle_says()
        self.nothing_comes_twice_but_where_somebody_died()
        self.nothing_wrong_was_told()
        states = {row.id: row.state for row in self.messages()}
        assert set(states.values()) <= {"sent", "dead", "superseded"}, states
        self.whoever_is_to_know_was_told(states)
        self.ends_were_told_once_to_whoever_was_told()

    def whoever_is_to_know_was_told(self, states: dict[str, str]) -> None:
        newest: dict[Any, tuple[int, str]] = {}
        for one, message in self.turns():
            key, number, way, turn, _ = one
            newest[key, number, way] = max(
                newest.get((key, number, way), (-1, "")), (turn, message)
            )
        stands = self.oracle.spoken_of()
        for key, spells in self.oracle.spells.items():
            if key not in stands or spells[-1].gone is not None:
                continue
            for way in spells[-1].latest:
                _, message = newest[key, spells[-1].number, way]
                if states[message] != "dead":
                    assert states[message] == "sent", (key, way)
                    assert way[1] != "mail" or self.accepted[message] >= 1

    def ends_were_told_once_to_whoever_was_told(self) -> None:
        s, c = r.NoticeSpell, r.NoticeAllClear
        asked = select(s.subject, s.rule, s.about, s.number, c.person, c.channel)
        with self.workers[0].store.reading() as conn:
            rows = list(conn.execute(asked.join(s, s.id == c.spell)))
        cleared = Counter(
            ((row.about, self.roll_of(row.subject), row.rule), row.number, self.names[row.person])
            for row in rows
            if row.channel == "mail"
        )
        ended = {
            (key, spell.number)
            for key, spells in self.oracle.spells.items()
            for spell in spells
            if spell.ended is not None
        }
        assert max([*cleared.values(), 1]) == 1
        assert {one for one in self.heard if one[:2] in ended} <= set(cleared) <= self.may_know


def may_lose_power(connection: Any, _: object) -> None:
    """A power cut is not among what happens here, so that nothing waits for the disk."""
    connection.execute("PRAGMA synchronous=OFF")


def pairs(conn: Connection, *columns: Any) -> dict[str, str]:
    return {row[0]: row[1] for row in conn.execute(select(*columns))}


QUICK, LONG = 300, 5_000
PHASES = (Phase.explicit, Phase.generate, Phase.shrink)
if os.environ.get("MACHINE_SHRINKS") == "no":
    PHASES = PHASES[:2]
STEPS = 50


def runs(template: Path, count: int) -> None:
    Machine.template = template
    run_state_machine_as_test(
        Machine,
        settings=settings(
            max_examples=count,
            stateful_step_count=STEPS,
            deadline=None,
            derandomize=count == QUICK,
            phases=PHASES,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_whatever_happens_what_is_told_is_what_the_oracle_says(template: Path) -> None:
    runs(template, int(os.environ.get("MACHINE_RUNS", QUICK)))


@pytest.mark.long
def test_whatever_happens_in_5000_runs(template: Path) -> None:
    runs(template, LONG)
