"""Doubts: what the facts of several cards together make suspicious.

They are computed when looked at and never stored. A doubt goes away when a person says what is
true: the card is out (`pulled`) or in (`loaded`, said again), the roll has this name
(`roll_renamed`, to the same name too).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from tracker.domain.facts import CameraSet, Moment, PlanCommitted, moment
from tracker.domain.fold import Production
from tracker.domain.rolls import Roll
from tracker.domain.rule import Context, under_way
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
        *probably_out(production.cameras, seen),
        *mirrors_wiped_early(seen),
        *names_used_twice(uses_of_names(seen)),
        *planned_otherwise(production.plans, seen),
        *names_unsure(seen),
    ]


def probably_out(cameras: Mapping[str, CameraSet], views: Iterable[CardView]) -> list[Doubt]:
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
        described = cameras.get(camera)
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


def labels_out(found: Iterable[Doubt]) -> set[str]:
    """The labels of the cards that are probably out, among some doubts."""
    return {label for doubt in found if doubt.kind == "probably out" for label in doubt.cards}


def uses_of_names(views: Iterable[CardView]) -> list[tuple[str, str]]:
    """Each use of a roll name in a production, with the card's label; mirrors are none."""
    return [
        (roll.name, card.label)
        for card in views
        for roll in card.state.rolls.values()
        if roll.loaded_as in ("main", "continues") and roll.parted_from is None
    ]


def names_used_twice(uses: Iterable[tuple[str, str]]) -> list[Doubt]:
    """Two rolls of one name in a production, neither of them a mirror or a proxy."""
    by_name: dict[str, list[str]] = {}
    for name, label in uses:
        by_name.setdefault(name, []).append(label)
    found = []
    for name, labels in sorted(by_name.items()):
        if len(labels) > 1:
            cards = tuple(sorted(set(labels)))
            says = f"{len(labels)} rolls are called {name}, on {', '.join(cards)}"
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


def mirrors_wiped_early(views: Iterable[CardView]) -> list[Doubt]:
    """A mirror that was wiped while its main roll was not covered."""
    return [
        mirror_wiped_early(card.label, roll.name)
        for card in views
        for roll in card.state.rolls.values()
        if roll.main_covered_when_wiped is False
    ]


def mirror_wiped_early(label: str, name: str) -> Doubt:
    """The doubt about one mirror."""
    says = f"the mirror of {name} was wiped before its main roll was backed up"
    to_do = "Keep the main card, and make its copies first of all."
    return Doubt("mirror wiped early", (label,), (name,), says, to_do)


def planned_otherwise(committed: Iterable[PlanCommitted], views: Iterable[CardView]) -> list[Doubt]:
    """Another card is in a camera than the last plan for it says."""
    plans: dict[str, tuple[PlanCommitted, set[str]]] = {}
    for plan in committed:
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
    context: Context,
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
            if not under_way(roll, context):
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
