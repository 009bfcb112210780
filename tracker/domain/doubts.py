"""Doubts: what the facts of several cards together make suspicious.

They are computed when looked at and never stored. A doubt goes away when a person says what is
true: the card is out (`pulled`) or in (`loaded`, said again), the roll has this name
(`roll_renamed`, to the same name too).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from tracker.domain.facts import Moment, PlanCommitted, moment
from tracker.domain.fold import Production
from tracker.domain.rolls import Roll
from tracker.domain.rule import under_way
from tracker.domain.status import CardView


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that a person should look at. cards and rolls by name."""

    kind: str
    cards: tuple[str, ...]
    rolls: tuple[str, ...]
    says: str
    to_do: str


def doubts(production: Production, views: Iterable[CardView]) -> list[Doubt]:
    """Every doubt that needs no clock, the dangerous ones first."""
    seen = list(views)
    return [
        *probably_out(production, seen),
        *mirrors_wiped_early(production, seen),
        *names_used_twice(seen),
        *planned_otherwise(production, seen),
        *names_unsure(seen),
    ]


def probably_out(production: Production, views: Iterable[CardView]) -> list[Doubt]:
    """More cards in a camera than it has slots: the earlier ones are probably out, and shot.

    A camera that nobody described has one slot.
    """
    by_camera: dict[str, list[tuple[Moment, CardView, Roll]]] = {}
    for card in views:
        roll = card.state.open_roll()
        if roll is not None and roll.camera is not None:
            by_camera.setdefault(roll.camera, []).append((roll.said_in, card, roll))
    found = []
    for camera, inside in sorted(by_camera.items()):
        described = production.cameras.get(camera)
        slots = described.slots if described else 1
        inside.sort(key=lambda entry: entry[0])
        last = inside[-1][1].label
        for index, (_, card, roll) in enumerate(inside):
            later = inside[index + 1 :]
            same_slot = any(roll.slot is not None and roll.slot == r.slot for _, _, r in later)
            if len(later) >= slots or same_slot:
                says = f"{last} went into camera {camera} since: {card.label} is probably out"
                to_do = "Treat it as shot and not copied until somebody says where it is."
                found.append(Doubt("probably out", (card.label,), (roll.name,), says, to_do))
    return found


def names_used_twice(views: Iterable[CardView]) -> list[Doubt]:
    """Two rolls of one name in a production, neither of them a mirror or a proxy."""
    by_name: dict[str, list[tuple[str, Roll]]] = {}
    for card in views:
        for roll in card.state.rolls.values():
            if roll.loaded_as in ("main", "continues") and roll.parted_from is None:
                by_name.setdefault(roll.name, []).append((card.label, roll))
    found = []
    for name, uses in sorted(by_name.items()):
        if len(uses) > 1:
            cards = tuple(sorted({label for label, _ in uses}))
            says = f"{len(uses)} rolls are called {name}, on {', '.join(cards)}"
            to_do = "Look at the camera's own reel names, and rename the wrong one."
            found.append(Doubt("name used twice", cards, (name,), says, to_do))
    return found


def names_unsure(views: Iterable[CardView]) -> list[Doubt]:
    """Roll names that the service guessed and nobody confirmed."""
    return [
        Doubt(
            "name unsure",
            (card.label,),
            (roll.name,),
            f"nobody confirmed that the roll on {card.label} is {roll.name}?",
            "Confirm the name, or give the camera's own.",
        )
        for card in views
        for roll in card.holds
        if roll.guessed
    ]


def mirrors_wiped_early(production: Production, views: Iterable[CardView]) -> list[Doubt]:
    """A mirror that was wiped while its main roll was not covered."""
    mains = production.context.mains or {}
    found = []
    for card in views:
        for roll in card.state.rolls.values():
            if roll.loaded_as != "mirror" or roll.wiped is None:
                continue
            before = [cover for at, cover in mains.get(roll.id, ()) if at <= roll.wiped]
            if not (before and before[-1]):
                says = f"the mirror of {roll.name} was wiped before its main roll was backed up"
                to_do = "Keep the main card, and make its copies first of all."
                kind = "mirror wiped early"
                found.append(Doubt(kind, (card.label,), (roll.name,), says, to_do))
    return found


def planned_otherwise(production: Production, views: Iterable[CardView]) -> list[Doubt]:
    """Another card is in a camera than the last plan for it says."""
    plans: dict[str, tuple[PlanCommitted, set[str]]] = {}
    for plan in production.plans:
        cameras: dict[str, set[str]] = {}
        for line in plan.lines:
            if isinstance(line.get("camera"), str) and isinstance(line.get("card"), str):
                cameras.setdefault(line["camera"], set()).add(line["card"])
        plans.update({camera: (plan, cards) for camera, cards in cameras.items()})
    found = []
    for card in views:
        roll = card.state.open_roll()
        if roll is None or roll.camera not in plans:
            continue
        plan, cards = plans[roll.camera]
        if roll.loaded > moment(plan) and not cards.intersection(card.state.labels):
            wanted = ", ".join(sorted(cards))
            says = f"{card.label} is in camera {roll.camera}; the plan says {wanted}"
            to_do = "Check which card is in the camera, and change the plan if that is right."
            found.append(Doubt("planned otherwise", (card.label,), (roll.name,), says, to_do))
    return found


def stale_copying(
    production: Production,
    views: Iterable[CardView],
    now: datetime,
    expected: Callable[[Roll, str], timedelta],
) -> list[Doubt]:
    """Copies under way for more than twice the time that they should take.

    expected: how long a copy of the roll to a drive (by label) should take.
    """
    found = []
    for card in views:
        for roll in card.uncovered:
            if not under_way(roll, production.context):
                continue
            for copy in roll.copies.values():
                if copy.attempt is None:
                    continue
                if now - copy.attempt.at[0] > 2 * expected(roll, copy.drive):
                    says = f"the copy of {roll.name} to {copy.drive} takes very long"
                    to_do = "Look whether it still runs. The card stays as it is until then."
                    kind = "stale copying"
                    found.append(Doubt(kind, (card.label,), (roll.name,), says, to_do))
    return found
