"""Shift change: what the next data manager takes over, as a list, and who has the notices now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from tracker.services import notices_page
from tracker.services.now import Line, now
from tracker.services.service import Service
from tracker.store import notice_lists as lists

IN_HANDS = ("loaded", "exposed", "copying", "copied", "missing", "set aside")
"""Statuses of cards of which somebody must be able to say where they are."""


@dataclass(frozen=True, slots=True)
class Handing:
    """What is handed over, each as sentences.

    danger: what may be lost. bare: rolls that are not backed up, by card, reminded of or not yet.
    running: copies under way. owed: what people are reminded of. promised: promises for cards
    that were cleared against the rule. doubtful: what a person should look at. hands: in whose
    hands the cards are that somebody waits for.
    """

    danger: tuple[str, ...]
    bare: tuple[str, ...]
    running: tuple[str, ...]
    owed: tuple[str, ...]
    promised: tuple[str, ...]
    doubtful: tuple[str, ...]
    hands: tuple[str, ...]

    def said(self) -> dict[str, Any]:
        """As it is kept with the hand-over."""
        return {word: list(lines) for word, lines in asdict(self).items()}


@dataclass(frozen=True, slots=True)
class Shift:
    """A hand-over. giver_id, taker_id: who gave it, who is to accept it, by id.

    accepted_at: None while they have not. withdrawn_at: when they let it go again. taker_here:
    False where they were put out since.
    """

    id: str
    role: str
    giver: str
    taker: str
    taker_id: str
    offered_at: datetime
    accepted_at: datetime | None
    withdrawn_at: datetime | None
    said: Mapping[str, Any]
    giver_id: str
    taker_here: bool

    @property
    def stands(self) -> bool:
        """Whether the notices go by it, if no later one was accepted."""
        return self.accepted_at is not None and self.withdrawn_at is None and self.taker_here


def to_hand_over(service: Service, at: datetime | None = None) -> Handing:
    """What stands now, for whoever takes over. Errors: NotSetUp."""
    moment = service.clock() if at is None else at
    seen = now(service)
    owed = notices_page.owed(service, moment).owed
    promises = [
        one
        for rule in notices_page.rules(service, moment)
        if rule.rule.name == "an override's promise"
        for one in (*rule.says, *rule.coming)
    ]
    return Handing(
        danger=tuple(
            f"{one.card}{f', roll {one.roll}' if one.roll else ''}: {one.says}. {one.to_do}"
            for one in seen.dangers
        ),
        bare=tuple(
            f"{line.label}: {', '.join(line.uncovered)} not backed up. {line.next}"
            for line in seen.lines
            if line.uncovered
        ),
        running=tuple(f"{line.label}: {line.next}" for line in seen.lines if _runs(line)),
        owed=tuple(f"{one.condition.says} {one.condition.to_do}" for one in owed),
        promised=tuple(one.says for one in promises),
        doubtful=tuple(f"{doubt.says}: {doubt.to_do}" for doubt in seen.doubts),
        hands=tuple(_where(line) for line in seen.lines if line.status in IN_HANDS),
    )


def _runs(line: Line) -> bool:
    return line.status == "copying"


def _where(line: Line) -> str:
    held = f" ({', '.join(line.holds)})" if line.holds else ""
    return f"{line.label}{held}, {line.status}: {line.has}"


def shifts(service: Service) -> list[Shift]:
    """Hand-overs that stand or were accepted, the newest first; the first accepted one counts."""
    with service.store.reading() as conn:
        return [Shift(**row._mapping) for row in lists.shifts(conn)]
