"""Why there is no leave to format a card, beside what the backup rule says of its rolls."""

from __future__ import annotations

from collections.abc import Iterable

from tracker.domain.card import CardState
from tracker.domain.clearing import clearing_stands
from tracker.domain.facts import CardFact, Cleared, ClearingWithdrawn, Moment
from tracker.domain.fold import in_order
from tracker.domain.permissions import Reason, may_clear
from tracker.domain.rolls import owes
from tracker.domain.rule import Context, covered
from tracker.domain.step import place
from tracker.domain.voids import effective
from tracker.services.acts_clearing import NO_OVERRIDE


def no_leave(
    state: CardState, context: Context, now: Moment, facts: Iterable[CardFact]
) -> list[Reason]:
    """Why a format has no leave that stands; none where it has, or where nothing would be lost.

    Rolls that are not covered are not named here: each is told with its copies.
    """
    said = may_clear(state, context, now)
    reasons = [reason for reason in said if reason.code in NO_OVERRIDE]
    if state.retired is not None:
        reasons.append(Reason("retired", f"it is retired ({state.retired})", "leave it alone"))
    if state.missing:
        reasons.append(Reason("missing", "it is reported missing", "log that it was found"))
    owing = [roll for roll in state.closed_rolls() if owes(roll)]
    if not owing or clearing_stands(state, context, now):
        return reasons
    reasons += [reason for reason in said if reason.code == "hold"]
    withdrawn = withdrawal(state, facts)
    if withdrawn is not None:
        reasons.append(withdrawn)
    elif all(covered(roll, context, now) for roll in owing) and not state.visiting:
        says = "everything on it is backed up, but nobody cleared it"
        reasons.append(Reason("not cleared", says, "a data manager clears it first"))
    return reasons


def withdrawal(state: CardState, facts: Iterable[CardFact]) -> Reason | None:
    """Why leave was withdrawn last; None if it was given again since, or the card was wiped."""
    last = None
    for fact in in_order(effective(list(facts))):
        if isinstance(fact, Cleared | ClearingWithdrawn):
            last = fact
    if not isinstance(last, ClearingWithdrawn):
        return None
    if state.last_format is not None and state.last_format.at > place(last):
        return None
    says = f"its clearing was withdrawn: {last.reason}"
    return Reason("withdrawn", says, "ask whoever withdrew it, before it is cleared again")


def promised(state: CardState, facts: Iterable[CardFact]) -> Cleared | None:
    """What was promised for a card that was cleared against the backup rule, while that stands."""
    clearing = state.clearing
    if clearing is None or not clearing.override:
        return None
    found = (fact for fact in facts if fact.id == clearing.fact)
    return next((fact for fact in found if isinstance(fact, Cleared)), None)
