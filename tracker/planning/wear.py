"""How much was written to each card, how worn it is, and how evenly the cards are used.

    wear = bytes written / (TBW * 10^12)

TBW is the rating of a card in terabytes that a host may write (JESD218's term; from memory). What
a card's own counter said last, and the rolls that came after, are what was written; without a
counter, all its rolls. Of the card's own figure of its wear and ours the larger is shown. A card
without a rating and without a figure of its own is of unknown wear, never of none; how often it
was filled, bytes / capacity, is known all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

TERABYTE = 10**12
"""IEC 80000-13."""

FEW = Fraction(1, 2)
"""The share of all writes of which the sentence on evenness speaks."""


@dataclass(frozen=True, slots=True)
class Written:
    """What is known of one card. Sizes are bytes; None is unknown.

    in_rolls: of all its rolls of known size; unsized: rolls of unknown size. counter: what the
    card's counter said last; since_counter: in rolls that were closed after that. own_wear: the
    card's own figure, 1 being worn as far as it is rated. endurance_tb: the rating, in terabytes.
    """

    label: str
    capacity_bytes: int | None
    in_rolls: int
    rolls: int
    unsized: int
    endurance_tb: float | None = None
    counter: int | None = None
    since_counter: int = 0
    own_wear: float | None = None


@dataclass(frozen=True, slots=True)
class Wear:
    """What follows for one card.

    bytes: written to it; at_least: more was written, nobody knows how much. source: where that
    comes from. fills: how often its capacity was written; wear: as a share of its rating; each
    None where it is unknown. wear_source: whose figure the wear is.
    """

    card: Written
    bytes: int
    at_least: bool
    source: Literal["its counter", "its rolls"]
    fills: float | None
    wear: float | None
    wear_source: Literal["the rating", "the card itself"] | None


def wear_of(card: Written) -> Wear:
    """What was written to a card, and how worn it is."""
    counted = card.counter is not None
    total = card.in_rolls if card.counter is None else card.counter + card.since_counter
    rated = None if not card.endurance_tb else total / (card.endurance_tb * TERABYTE)
    wear, source = rated, None if rated is None else "the rating"
    if card.own_wear is not None and (rated is None or card.own_wear > rated):
        wear, source = card.own_wear, "the card itself"
    return Wear(
        card,
        total,
        card.unsized > 0,
        "its counter" if counted else "its rolls",
        total / card.capacity_bytes if card.capacity_bytes else None,
        wear,
        "the card itself" if source == "the card itself" else "the rating" if source else None,
    )


def lorenz(sizes: Sequence[int]) -> list[tuple[Fraction, Fraction]]:
    """The Lorenz curve: the share of all bytes that the least used cards up to a share hold.

    From (0, 0) to (1, 1), a point for each card; empty where nothing was written.
    """
    total = sum(sizes)
    if not total:
        return []
    points, below = [(Fraction(0), Fraction(0))], 0
    for number, size in enumerate(sorted(sizes), 1):
        below += size
        points.append((Fraction(number, len(sizes)), Fraction(below, total)))
    return points


def gini(sizes: Sequence[int]) -> Fraction | None:
    """The Gini coefficient, 0 where all are used alike; None where nothing was written.

    `2 sum(i x_i) / (n sum(x)) - (n + 1) / n` with x sorted, i from 1: twice the area between the
    Lorenz curve and the diagonal.
    """
    total, n = sum(sizes), len(sizes)
    if not total:
        return None
    ranked = sum(number * size for number, size in enumerate(sorted(sizes), 1))
    return Fraction(2 * ranked, n * total) - Fraction(n + 1, n)


def carry(sizes: Sequence[int], share: Fraction = FEW) -> int | None:
    """How few cards carry at least a share of all bytes; None where nothing was written."""
    total, held = sum(sizes), 0
    for number, size in enumerate(sorted(sizes, reverse=True), 1):
        held += size
        if total and Fraction(held, total) >= share:
            return number
    return None
