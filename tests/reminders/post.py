"""A harbour whose people are told: a tick and a round of the outbox, under a clock of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import select

from tests.services.harbour import CART, GB, LEE, Clock, Harbour, begin
from tracker.reminders.letters import Letter, NotAccepted
from tracker.reminders.notices import Ticked, tick
from tracker.reminders.outbox import Delivered, deliver
from tracker.services import acts_camera, acts_card, notices, people
from tracker.services.people import Person, person_called
from tracker.services.service import Service
from tracker.store import reminder_tables as r
from tracker.store.engine import Store
from tracker.store.rows import table

CAST = {
    "Kim": "data manager",
    "Lee": "loader",
    "Noor": "production office",
    "Ada": "administrator",
}


class Died(BaseException):
    """The process ends here."""


@dataclass
class Box:
    """A channel that keeps what it is given; `answers` says what it does with the next letters."""

    kind: str = "mail"
    letters: list[Letter] = field(default_factory=list)
    answers: list[Any] = field(default_factory=list)

    def send(self, letter: Letter) -> None:
        answer = self.answers.pop(0) if self.answers else "accepts"
        if answer in ("accepts", "accepts and dies"):
            self.letters.append(letter)
        if answer == "accepts and dies" or answer == "dies":
            raise Died
        if answer == "refuses":
            raise NotAccepted("4.3.2 not now")
        if answer == "refuses for good":
            raise NotAccepted("5.1.1 nobody of that name", permanent=True)
        if answer == "hangs":
            raise TimeoutError("no answer in 30 s")

    def titles(self) -> list[str]:
        return [letter.title for letter in self.letters]


@dataclass
class Post:
    """What a story of the reminders needs."""

    harbour: Harbour
    box: Box = field(default_factory=Box)

    @property
    def service(self) -> Service:
        return self.harbour.service

    @property
    def clock(self) -> Clock:
        return self.harbour.clock

    def person(self, name: str) -> Person:
        return person_called(self.service, name)

    def by_mail(self, *names: str) -> None:
        for name in names:
            address = f"{name.lower()}@harbour.example"
            notices.set_channel(self.service, self.person(name).id, "mail", address)

    def tick(self) -> Ticked:
        return tick(self.service)

    def deliver(self) -> Delivered:
        return deliver(self.service, channels={self.box.kind: self.box})

    def minute(self, minutes: float = 0) -> list[str]:
        """So much later: a tick, and a round of the outbox. The titles that came by mail."""
        self.clock.wait(minutes)
        before = len(self.box.letters)
        self.tick()
        self.deliver()
        return [letter.title.removeprefix("Harbour: ") for letter in self.box.letters[before:]]

    def told(self, name: str, channel: str = "page") -> list[str]:
        """What a person was told by a channel, in order: the titles."""
        mine = (
            select(r.NoticeMessage.title)
            .where(
                r.NoticeMessage.person == self.person(name).id,
                r.NoticeMessage.channel == channel,
                r.NoticeMessage.state == "sent",
            )
            .order_by(r.NoticeMessage.sent_at, r.NoticeMessage.id)
        )
        with self.service.store.reading() as conn:
            return [str(title).removeprefix("Harbour: ") for title in conn.scalars(mine)]

    def rows(self, of: type[r.Base]) -> list[Any]:
        with self.service.store.reading() as conn:
            return list(conn.execute(select(table(of))))

    def states(self, channel: str = "mail") -> list[str]:
        """How the messages of a channel stand, in the order in which they were made."""
        made = [row for row in self.rows(r.NoticeMessage) if row.channel == channel]
        return [row.state for row in sorted(made, key=lambda row: (row.made_at, row.id))]

    # What happens

    def shot(self, label: str = "S-014", camera: str = "A", roll: str = "A001") -> datetime:
        """A card comes out of a camera after an hour; the time."""
        acts_camera.load(self.service, LEE, label, camera, roll=roll, formatted=True)
        self.clock.wait(60)
        acts_camera.pull(self.service, LEE, label, bytes_=480 * GB)
        return self.clock.now

    def copied(self, label: str = "S-014") -> None:
        self.harbour.checked(label, "RAID", "SHUTTLE")

    def missing(self, label: str = "S-014") -> None:
        acts_card.report_missing(self.service, CART, label)

    def found(self, label: str = "S-014") -> None:
        acts_card.found(self.service, CART, label)


def post(store: Store, *names: str, at: datetime | None = None) -> Post:
    """Harbour with some of its people, all by mail, and the reminders begun. names: none: all."""
    clock = Clock()
    made = Post(begin(store, clock))
    if at is not None:
        clock.now = at
    for name in names or CAST:
        people.let_in(made.service, name, CAST[name], "a test")
    made.by_mail(*(names or CAST))
    made.minute()
    made.box.letters.clear()
    return made


NewStore = Callable[..., Store]
