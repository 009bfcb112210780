"""Twenty people who log at once, who remember what was acknowledged, and send the rest again."""

from __future__ import annotations

import http.client
import json
import random
import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from tracker.services.service import new_id

PEOPLE = 20
CARDS = tuple(f"S-{number:03}" for number in range(10))
Fact = dict[str, Any]


@dataclass
class Person:
    """One who logs one batch after the other.

    acknowledged: ids that were answered with success. waiting: the batch that was sent last and
    not answered, which is sent again first, as a phone does.
    """

    number: int
    chance: random.Random
    acknowledged: set[str] = field(default_factory=set)
    batches: list[tuple[str, ...]] = field(default_factory=list)
    waiting: list[Fact] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)

    def work(self, port: int, token: str, stop: threading.Event, begun: threading.Event) -> None:
        """Log until the service does not answer any more, or it is enough."""
        headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        conn = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        try:
            # Whoever has something waiting sends that before going home.
            while self.waiting or not stop.is_set():
                batch = self.waiting or self.next_batch()
                self.waiting = batch
                conn.request("POST", "/api/v1/facts", json.dumps(batch), headers)
                answer = conn.getresponse()
                said = json.loads(answer.read())
                self.answered(answer.status, said, batch)
                begun.set()
        except (OSError, http.client.HTTPException, ValueError):
            # Killed while it was asked: nobody knows whether that was logged.
            pass
        finally:
            conn.close()

    def answered(self, status: int, said: Any, batch: list[Fact]) -> None:
        """What was answered to a batch."""
        if status not in (200, 201):
            self.refused.append(f"{status}: {said}")
        else:
            ids = tuple(fact["id"] for fact in batch)
            if [one["id"] for one in said["facts"]] != list(ids):
                self.refused.append(f"answered {said} to {ids}")
            self.acknowledged.update(ids)
            self.batches.append(ids)
        self.waiting = []

    def next_batch(self) -> list[Fact]:
        """One fact, or a few that belong together."""
        card = self.chance.choice(CARDS)
        events = self.chance.choice([("noted",), ("noted",), ("loaded", "pulled"), ("noted",) * 3])
        return [self.fact(event, card) for event in events]

    def fact(self, event: str, card: str) -> Fact:
        said: Fact = {
            "id": new_id(), "event": event, "card": card,
            "occurred_at": datetime.now(UTC).isoformat(),
        }  # fmt: skip
        if event == "noted":
            return said | {"text": f"looked at by {self.number}"}
        if event == "loaded":
            return said | {"camera": "A", "roll": f"A{self.chance.randrange(1000):03}"}
        return said | {"bytes": 480 * 10**9}


def crew(seed: int) -> list[Person]:
    """Everybody, with nothing logged yet."""
    return [Person(number, random.Random(f"{seed}/{number}")) for number in range(PEOPLE)]


class Shift:
    """All of them at work on one service at once, until it is killed or they are sent home."""

    def __init__(self, people: Sequence[Person], port: int, token: str) -> None:
        self.stop, self.begun = threading.Event(), threading.Event()
        self.threads = [
            threading.Thread(target=person.work, args=(port, token, self.stop, self.begun))
            for person in people
        ]
        for thread in self.threads:
            thread.start()

    def wait(self) -> None:
        """Until everybody has stopped."""
        for thread in self.threads:
            thread.join(120)
            assert not thread.is_alive()
