"""Leave to format a card: given for the rolls that it holds, standing while each is covered."""

from __future__ import annotations

from tracker.domain.card import CardState, Clearing
from tracker.domain.facts import Cleared, ClearingWithdrawn, Moment
from tracker.domain.permissions import may_clear
from tracker.domain.rolls import owes
from tracker.domain.rule import Context, covered


def clearing_stands(state: CardState, context: Context, at: Moment) -> bool:
    """Whether there is leave to format: for every roll on the card that owes, and still right.

    It falls when a roll is not covered any more, and stands again when it is; one that was
    given against the rule does not depend on it.
    """
    clearing = state.clearing
    if clearing is None:
        return False
    return all(
        roll.id in clearing.rolls and (clearing.override or covered(roll, context, at))
        for roll in state.closed_rolls()
        if owes(roll)
    )


def cleared(state: CardState, fact: Cleared, at: Moment, context: Context) -> None:
    """A clearing counts if the facts support it, or by override; never unseen or visiting."""
    state.answerable = None
    supported = not may_clear(state, context, at)
    never = state.visiting or not state.seen
    if not supported and (never or fact.override_reason is None):
        state.mishap(fact.id, "cleared_uncovered")
        return
    if not supported:
        state.mishap(fact.id, "cleared_by_override")
    rolls = tuple(roll.id for roll in state.closed_rolls())
    state.clearing = Clearing(fact.id, at, rolls, override=not supported)


def withdrawn(state: CardState, fact: ClearingWithdrawn, at: Moment, context: Context) -> None:
    """The clearing no longer holds."""
    state.clearing = None
