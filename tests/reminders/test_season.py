"""A season, told day by day, while the service is restarted again and again, mostly in its work.

60 cards; twelve are shot a day and copied hours later, a few the next day; some get lost and turn
up. Ticks every 20 minutes in the day and every two hours in the night. What is decided must be
what the oracle says, and each local date has one list for each way, also where clocks change.
"""

from __future__ import annotations

import random
import shutil
import uuid
from collections import Counter
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import event, select

from tests.reminders.oracle import EXPOSED, MISSING, Card, Oracle, read
from tests.reminders.post import Died, post
from tests.reminders.test_machine import Watched, dying_after, may_lose_power, pairs
from tests.services.harbour import GB, PROOF, Clock
from tracker.reminders.letters import Letter
from tracker.reminders.notices import tick
from tracker.reminders.outbox import deliver
from tracker.reminders.rules import RULES
from tracker.services import notices
from tracker.services.logging import Said, log_history
from tracker.services.service import Service
from tracker.store import people_tables as p
from tracker.store import reminder_tables as r
from tracker.store import tables as t
from tracker.store.engine import open_store

HELSINKI = ZoneInfo("Europe/Helsinki")
NOTE = "backed up and not cleared"
BEGIN = datetime(2026, 3, 18, 5, 0, tzinfo=UTC)
"""Seven o'clock; clocks go forward on 29 March."""
LABELS = [f"S-{number}" for number in range(100, 160)]
SHOTS_A_DAY = 12


class Season:
    """What happens, and when; the service and the oracle hear of it in that order."""

    def __init__(self, file: Path, days: int, restarts: int) -> None:
        self.random = random.Random(20260302)
        self.file, self.days = file, days
        self.clock = Clock(BEGIN)
        self.oracle = Oracle({label: Card() for label in LABELS})
        self.box = Watched()
        self.box.on_letter = self.arrives
        self.accepted: Counter[str] = Counter()
        self.lists: Counter[tuple[str, date]] = Counter()
        self.wrong: list[str] = []
        self.happens = sorted(self.events(), key=lambda one: one[0])
        moments = list(self.moments())
        self.restarts = Counter(self.random.choices(range(len(moments)), k=restarts))
        self.ticks = moments
        self.restarted = 0
        self.open()

    def open(self) -> None:
        store = open_store(self.file)
        event.listen(store._writer, "connect", may_lose_power)
        self.service = Service(store, self.clock)

    def restart(self) -> None:
        """Another process, which remembers nothing."""
        self.service.store.close()
        self.open()
        self.restarted += 1

    # The plan

    def events(self) -> Any:
        free = dict.fromkeys(LABELS, BEGIN)
        number = 0
        for day in range(self.days):
            for shot in range(SHOTS_A_DAY):
                at = BEGIN + timedelta(days=day, hours=1, minutes=45 * shot)
                label = self.random.choice([one for one in LABELS if free[one] <= at])
                number += 1
                roll = f"R{number:04d}"
                pulled = at + timedelta(minutes=20)
                late = self.random.random() < 0.05
                hours = self.random.uniform(14, 26) if late else self.random.uniform(0.3, 4)
                copied = pulled + timedelta(hours=hours)
                yield at, "shot", label, roll
                yield copied, "copied", label, roll
                if self.random.random() < 0.01:
                    lost = pulled + (copied - pulled) * 0.2
                    found = pulled + (copied - pulled) * 0.8
                    yield lost, "lost", label, roll
                    yield found, "found", label, roll
                free[label] = copied + timedelta(minutes=30)

    def moments(self) -> Any:
        at = BEGIN
        while at < BEGIN + timedelta(days=self.days):
            yield at
            hour = at.astimezone(HELSINKI).hour
            at += timedelta(minutes=20) if 6 <= hour < 22 else timedelta(hours=2)

    # What is heard

    def hear(self, until: datetime) -> None:
        said: list[Said] = []
        while self.happens and self.happens[0][0] <= until:
            at, what, label, roll = self.happens.pop(0)
            card = self.oracle.cards[label]
            if what == "shot":
                said.append(fact(at, "loaded", label, camera="A", roll=roll, formatted=True))
                card.pulled = at + timedelta(minutes=20)
                card.roll = roll
                said.append(fact(card.pulled, "pulled", label, bytes=480 * GB))
            elif what == "copied":
                for drive in ("RAID", "SHUTTLE"):
                    level = {"level": "checksummed", "proof": PROOF, "roll": roll}
                    said.append(fact(at, "copy_checked", label, drive=drive, **level))
                card.roll = card.pulled = None
            else:
                card.lost = at if what == "lost" else None
                said.append(fact(at, {"lost": "reported_missing"}.get(what, "found"), label))
        if said:
            log_history(self.service, said)

    def arrives(self, letter: Letter) -> None:
        self.accepted[letter.id] += 1
        name = letter.to.split("@")[0].capitalize()
        told = read(letter.body.split("List of the morning")[0])
        if "list of the morning" in letter.title:
            self.lists[name, self.clock.now.astimezone(HELSINKI).date()] += 1
        try:
            self.oracle.may_be_told(told, (name, "mail"), self.clock.now)
        except AssertionError as error:
            self.wrong.append(f"{self.clock.now}: {error}")

    # The run

    def run(self) -> None:
        for number, at in enumerate(self.ticks):
            self.clock.now = at
            self.hear(at)
            for _ in range(self.restarts[number]):
                self.work_and_die()
                self.restart()
            tick(self.service)
            self.oracle.tick(at)
            deliver(self.service, channels={"mail": self.box})

    def work_and_die(self) -> None:
        """The process ends somewhere in a tick or a round of the outbox, or after both."""
        try:
            with dying_after(self.service.store, self.random.randint(0, 60)):
                tick(self.service)
                self.oracle.tick(self.clock.now)
                deliver(self.service, channels={"mail": self.box})
        except Died:
            pass

    def decided(self) -> Any:
        s, k = r.NoticeSpell, r.NoticeTurn
        with self.service.store.reading() as conn:
            names = pairs(conn, p.Person.id, p.Person.name)
            rolls = pairs(conn, t.Roll.id, t.Roll.name)
            asked = select(
                s.subject, s.rule, s.number, s.about, k.person, k.channel, k.turn, k.first
            ).join(s, s.id == k.spell)
            for row in conn.execute(asked.where(s.rule.in_((EXPOSED, MISSING)))):
                kind, _, rest = row.subject.partition("/")
                roll = rolls[rest.split("/")[1]] if kind == "roll" else ""
                key = (row.about, roll, row.rule)
                yield key, row.number, (names[row.person], row.channel), row.turn, row.first


def fact(at: datetime, name: str, card: str, **fields: object) -> Said:
    said = {"id": str(uuid.uuid4()), "event": name, "card": card, "occurred_at": at.isoformat()}
    return Said({**said, **fields})


def told_by_the_season(folder: Path, template: Path, days: int, restarts: int) -> Season:
    file = folder / "season.db"
    shutil.copy(template, file)
    with closing(open_store(file)) as store:
        told = post(store, "Kim", "Lee", "Noor", at=BEGIN - timedelta(days=1))
        rules = {one.name: {"on": one.name in (EXPOSED, MISSING, NOTE)} for one in RULES}
        said = {"production": {"clock_day_s": 86_400, "rules": rules}, "escalate_after_s": None}
        notices.set_settings(told.service, None, said)
        early = BEGIN - timedelta(hours=1)
        size = {"media": "2.5in SSD", "capacity_bytes": 1000 * GB}
        cards = [fact(early, "registered", label, **size) for label in LABELS]
        log_history(told.service, cards)
    season = Season(file, days, restarts)
    season.run()
    return season


def judge(season: Season, restarts: int) -> None:
    assert season.restarted == restarts
    assert season.wrong == []
    assert Counter(season.decided()) == Counter(season.oracle.decided)
    for row in messages(season):
        assert row.state != "sent" or row.channel != "mail" or season.accepted[row.id]
    twice = [one for one, count in season.accepted.items() if count > 1]
    assert len(twice) <= restarts
    each_date_has_one_list(season)


def messages(season: Season) -> list[Any]:
    with season.service.store.reading() as conn:
        return list(conn.execute(select(r.NoticeMessage.__table__)))


def each_date_has_one_list(season: Season) -> None:
    first = BEGIN.astimezone(HELSINKI).date()
    last = season.ticks[-1].astimezone(HELSINKI).date()
    dates = {first + timedelta(days=n) for n in range((last - first).days + 1)}
    with season.service.store.reading() as conn:
        rows = list(conn.execute(select(r.NoticeDigest.__table__)))
    found = Counter((row.person, row.channel, date.fromisoformat(row.day)) for row in rows)
    ways = {(row.person, row.channel) for row in rows}
    assert len(ways) == 6
    assert set(found.values()) == {1}
    for way in ways:
        mine = {day for *one, day in found if tuple(one) == way}
        assert dates <= mine | {last}
    assert all(row.missed == 0 for row in rows)


def test_two_weeks_with_40_restarts(tmp_path: Path, sqlite_template: Path) -> None:
    season = told_by_the_season(tmp_path, sqlite_template, days=14, restarts=40)
    judge(season, 40)
    season.service.store.close()


@pytest.mark.long
def test_a_season_of_200_days_with_500_restarts(tmp_path: Path, sqlite_template: Path) -> None:
    season = told_by_the_season(tmp_path, sqlite_template, days=200, restarts=500)
    judge(season, 500)
    season.service.store.close()
