"""The outbox as its page shows it: every message, what became of it, and every turn in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tracker.services.service import Service
from tracker.store import notice_lists

AT_ONCE = 50
"""Messages on a page."""

STATES = {
    "queued": ("waiting to go", "decided, and not handed on yet"),
    "leased": ("being handed on", "somebody is handing it on at this moment"),
    "retried": ("tried again later", "the channel did not take it; it is tried for 48 hours"),
    "dead": ("given up", "it did not arrive, and is not tried any more"),
    "sent": ("sent", "the channel took it"),
    "superseded": ("settled before", "what it was about was settled before it went out"),
}
"""What each state is called, and what it means."""


@dataclass(frozen=True, slots=True)
class Message:
    """One message. says: the turns, all-clears and list in it, in sentences."""

    row: Mapping[str, Any]
    says: tuple[str, ...]

    @property
    def state(self) -> str:
        """What its state is called."""
        return STATES[self.row["state"]][0]


@dataclass(frozen=True, slots=True)
class Outbox:
    """Messages, newest first. counts: how many are in each state, by its word in the tables."""

    messages: tuple[Message, ...]
    counts: dict[str, int]
    first: int
    total: int


def outbox(service: Service, states: Sequence[str], first: int) -> Outbox:
    """Messages of some states; of none asked for, all."""
    with service.store.reading() as conn:
        counts = notice_lists.by_state(conn)
        rows = notice_lists.messages(conn, states, first, AT_ONCE)
        ids = [row["id"] for row in rows]
        turns = notice_lists.turns(conn, ids)
        ends = notice_lists.ends(conn, ids)
        lists = notice_lists.digests(conn, ids)
    says: dict[str, list[str]] = {one: [] for one in ids}
    for turn in turns:
        says[turn.message].append(_turn(turn))
    for end in ends:
        says[end.message].append(f"settled: {end.about}, {end.rule}")
    for message, row in lists.items():
        missed = f" ({row.missed} before it did not go out)" if row.missed else ""
        says[message].append(f"list of the morning of {row.day}{missed}")
    total = sum(count for state, count in counts.items() if not states or state in states)
    shown = tuple(Message(row, tuple(says[row["id"]])) for row in rows)
    ordered = {state: counts[state] for state in STATES if state in counts}
    return Outbox(shown, ordered, first, total)


def _turn(row: Any) -> str:
    number = f"notice {row.turn + 1}" if row.turn else "first notice"
    skipped = row.turn - row.first
    more = "" if not skipped else f", with {skipped} that did not go out before"
    danger = "danger: " if row.severity == "danger" else ""
    return f"{danger}{row.about}, {row.rule} ({number}{more})"
