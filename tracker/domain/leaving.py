"""A card leaves its camera: by a pull, or because another fact implies that it did."""

from __future__ import annotations

from tracker.domain.card import CardState
from tracker.domain.facts import CardFact, Moment
from tracker.domain.rolls import Roll, owes


def close(state: CardState, roll: Roll, at: Moment, *, implied_by: str | None = None) -> None:
    """Close a roll, whose figures are known by now as well as they will be.

    A clearing was for what the card held when it was given: a roll that owes ends it.
    """
    roll.closed = roll.last_closed = at
    roll.implied_by = implied_by
    roll.fillings += 1
    state.opened = None
    state.answerable = roll.id
    if owes(roll):
        state.clearing = None


def closed_by_implication(state: CardState, fact: CardFact, at: Moment) -> None:
    """The fact says that the card is out of the camera, though nobody logged the pull."""
    if state.opened is not None:
        roll = state.edit(state.opened)
        close(state, roll, at, implied_by=fact.id)
        state.mishap(fact.id, "pull_missing", roll.id)
