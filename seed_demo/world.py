"""The world that the demo runs in: a clock with an agenda, and where every card and drive stands.

The story is played, not drawn up: actions wait on the agenda and run in order of time, each may
log facts and put further actions on the agenda. So a card is in one place at a time, a copy
takes its time, and the story can be stopped at any minute.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from seed_demo.cast import DRIVES, TB, Camera, Card, moment, pool

Fact = dict[str, object]
Action = Callable[[], object]


@dataclass
class Roll:
    """One filling of a card. typed: the figures as the loader read them, None where unsaid."""

    name: str
    card: str
    camera: str
    size: int = 0
    clips: int = 0
    seconds: int = 0
    loaded_id: str = ""
    drives: list[str] = field(default_factory=list)


@dataclass
class Shelf:
    """A card as the world has it.

    free_since: since when it waits to be used, None while it may not be.
    formatted_by: letters of the camera that formatted it ahead, with nothing shot since.
    held: bytes on it since its last format. written: bytes written to it in its life.
    """

    card: Card
    free_since: datetime | None = None
    formatted_by: str | None = None
    loaded_in: str | None = None
    gone: bool = False
    held: int = 0
    written: int = 0


class World:
    """Clock, agenda, cards, drives, and the lines written so far.

    lines: (when it was typed, fact), in the order of typing.
    leaving: rolls on each shuttle that are not on a vault yet.
    waiting: rolls that are out of their camera and not yet copied and checked at the cart.
    """

    def __init__(self, seed: int) -> None:
        self.rng = Random(seed)
        self.cards = {card.label: Shelf(card) for card in pool(self.rng)}
        for shelf in self.cards.values():
            shelf.written = shelf.card.written_before
        self.now = moment(1, "00:00") - timedelta(days=2)
        self.day = 0
        self.lines: list[tuple[datetime, Fact]] = []
        self.readers = [self.now, self.now]
        self.used = {drive.label: 0 for drive in DRIVES}
        self.leaving: dict[str, list[Roll]] = {drive.label: [] for drive in DRIVES}
        self.waiting = 0
        self.rolls: list[Roll] = []
        self.remembered: dict[str, Roll] = {}
        self.ids: dict[str, str] = {}
        self.last_check: datetime | None = None
        self.last_clearing: datetime | None = None
        self._numbers: dict[str, int] = {}
        self._agenda: list[tuple[datetime, int, Action]] = []
        self._count = 0

    def at(self, when: datetime, action: Action) -> None:
        """Put an action on the agenda; of two at the same time the first one put comes first."""
        self._count += 1
        heapq.heappush(self._agenda, (max(when, self.now), self._count, action))

    def after(self, minutes: float, action: Action) -> None:
        """Put an action on the agenda, so many minutes from now."""
        self.at(self.now + timedelta(minutes=minutes), action)

    def run(self, until: datetime) -> None:
        """Play everything on the agenda up to a moment, that moment included."""
        while self._agenda and self._agenda[0][0] <= until:
            self.now, _, action = heapq.heappop(self._agenda)
            action()

    def log(
        self,
        event: str,
        *,
        card: str | None = None,
        drive: str | None = None,
        unit: str | None = None,
        occurred_at: datetime | None = None,
        **fields: object,
    ) -> str:
        """Write a fact and give back its id.

        `drive` goes with `card` for a copy. A field of None is left out; the underscore of
        `from_` and `as_` is dropped.
        """
        number = UUID(int=self.rng.getrandbits(128), version=4)
        fact: Fact = {"id": str(number), "event": event}
        when = (occurred_at or self.now).replace(microsecond=0)
        subject = {"card": card, "drive": drive, "unit": unit}
        fact.update((name, value) for name, value in subject.items() if value is not None)
        fact["occurred_at"] = when.isoformat()
        fact.update((k.rstrip("_"), v) for k, v in fields.items() if v is not None)
        self.lines.append((self.now, fact))
        return str(fact["id"])

    def minutes(self, least: int, most: int) -> timedelta:
        """A span of whole minutes, drawn from a range with both ends in it."""
        return timedelta(minutes=self.rng.randint(least, most))

    def next_roll(self, camera: Camera) -> str:
        """The name of the camera's next roll."""
        number = self._numbers.get(camera.letters, 0) + 1
        self._numbers[camera.letters] = number
        return f"{camera.letters}{number:03d}"

    def free(self, media: str) -> list[Shelf]:
        """The cards of a kind that wait to be used, the longest rested first."""
        waiting = [
            (shelf.free_since, shelf.card.label, shelf)
            for shelf in self.cards.values()
            if shelf.free_since is not None and shelf.card.media == media
        ]
        return [shelf for _, _, shelf in sorted(waiting, key=lambda entry: entry[:2])]

    def pick(self, camera: Camera) -> Shelf:
        """The card that the loader takes next: formatted ahead in that camera, or long rested."""
        waiting = self.free(camera.takes)
        ahead = [shelf for shelf in waiting if shelf.formatted_by == camera.letters]
        others = [shelf for shelf in waiting if shelf.formatted_by is None]
        if ahead:
            return ahead[0]
        if not others:
            raise RuntimeError(f"no card is free for camera {camera.letters} at {self.now}")
        return self.rng.choice(others[:3])

    def put_on(self, drive: str, size: int) -> None:
        """Bytes arrive on a drive; a drive that would run over is a mistake in the story."""
        self.used[drive] += size
        capacity = next(d.capacity_tb for d in DRIVES if d.label == drive) * TB
        if self.used[drive] > capacity:
            raise RuntimeError(f"{drive} runs over on {self.now}")
