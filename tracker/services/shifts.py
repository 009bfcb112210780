"""The change of a shift: what runs, is owed, promised and doubtful, and in whose hands it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tracker.services import now, owed
from tracker.services.people import Person
from tracker.services.roles import Role
from tracker.services.service import Service
from tracker.store import notice_lists

ROLE: Role = "data manager"
"""Whose notices change hands: the others work in one shift."""
MAY_TAKE: tuple[Role, ...] = ("data manager", "administrator")
PROMISES = "an override's promise"
MOST = 20


@dataclass(frozen=True, slots=True)
class Shift:
    """What is handed over, by heading, each a list of sentences; and how it went before.

    takers: who could take it. open_offer: what was offered and is not accepted; None if nothing.
    holder: who has the notices now; None where they go to everybody of the role.
    """

    said: Mapping[str, tuple[str, ...]]
    takers: Sequence[Any]
    open_offer: Mapping[str, Any] | None
    holder: str | None
    before: Sequence[Mapping[str, Any]]


def shift(service: Service, who: Person) -> Shift:
    """What whoever is signed in would hand over now."""
    with service.store.reading() as conn:
        before = notice_lists.shifts(conn, ROLE, MOST)
        takers = notice_lists.may_take(conn, MAY_TAKE, who.id)
    waiting = [one for one in before if _is_open(one)]
    taken = [one for one in before if one["accepted_at"] is not None]
    last = max(taken, key=lambda one: one["accepted_at"], default=None)
    return Shift(
        said=in_hand(service, who),
        takers=takers,
        open_offer=waiting[0] if waiting else None,
        holder=None if last is None else last["took"],
        before=[one for one in before if not _is_open(one)],
    )


def _is_open(row: Mapping[str, Any]) -> bool:
    return row["accepted_at"] is None and row["withdrawn_at"] is None


def in_hand(service: Service, who: Person) -> dict[str, tuple[str, ...]]:
    """What runs, is owed, promised and doubtful, and in whose hands: sentences, danger first."""
    seen = now.now(service)
    due = owed.owed(service, who)
    promises = next(one for one in owed.rules(service).rules if one.rule.name == PROMISES)
    copying = [line for line in seen.lines if line.status == "copying"]
    hands: dict[str, list[str]] = {}
    for line in seen.lines:
        if line.holds and line.status != "retired":
            hands.setdefault(line.has, []).append(line.label)
    return {
        "In danger": tuple(
            f"{one.card}{f', roll {one.roll}' if one.roll else ''}: {one.says}"
            for one in seen.dangers
        ),
        "Copies under way": tuple(f"{line.label}: {', '.join(line.holds)}" for line in copying),
        "Owed": tuple(
            f"{one.condition.says}{f' {one.has} has it.' if one.has else ''}" for one in due.things
        ),
        "Promised": tuple(one.says for one in promises.today),
        "Doubtful": tuple(f"{', '.join(one.cards)}: {one.says}" for one in seen.doubts),
        "In whose hands": tuple(
            f"{has[:1].upper()}{has[1:]}: {', '.join(labels)}" for has, labels in hands.items()
        ),
    }
