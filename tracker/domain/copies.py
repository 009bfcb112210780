"""What facts about copies make of the rolls of a card.

A copy fact may name its roll, or leave that to the rules: a start means what is not covered yet;
a finish, a check or a failure belongs to the attempt of that card on that drive. A copy made
from another drive says nothing of where the card is.
"""

from __future__ import annotations

from collections.abc import Sequence

from tracker.domain import attempts
from tracker.domain.card import CardState
from tracker.domain.facts import (
    CopyChecked,
    CopyFact,
    CopyFailed,
    CopyFinished,
    CopyLost,
    CopyStarted,
    Moment,
)
from tracker.domain.leaving import closed_by_implication
from tracker.domain.rolls import Roll, owes
from tracker.domain.rule import Context, covered
from tracker.domain.short import judge_short


def started(state: CardState, fact: CopyStarted, at: Moment, context: Context) -> None:
    """A copy began."""
    if fact.made_from is None:
        state.missing = False
        if state.opened is not None and (not _named(fact) or _names_open(state, fact)):
            closed_by_implication(state, fact, at)
    rolls = _meant(state, fact) if _named(fact) else _wanted(state, context, at)
    if not _found(state, fact, rolls):
        return
    for roll in rolls:
        attempts.begin(state, roll.id, fact, context)
    state.begun_last[fact.drive] = state.under_way[fact.drive] = tuple(r.id for r in rolls)


def finished(state: CardState, fact: CopyFinished, at: Moment, context: Context) -> None:
    """A copy is on the drive."""
    from_card = fact.made_from is None
    if _named(fact):
        if from_card and _closes_by_name(state, fact, context, at):
            closed_by_implication(state, fact, at)
        rolls = _meant(state, fact)
    else:
        rolls = _under_way(state, fact, context, at)
        if not rolls:
            if from_card:
                closed_by_implication(state, fact, at)
            rolls = _wanted(state, context, at)
    if state.missing and from_card:
        there = [(attempts.on_drive(roll, fact.drive, context, at), roll) for roll in rolls]
        if not there or any(attempts.source(*one) is None for one in there):
            # A finish that goes on with an attempt from another drive says nothing of the card.
            state.missing = False
    if not _found(state, fact, rolls):
        return
    ids = tuple(roll.id for roll in rolls)
    for roll_id in ids:
        attempts.finish(state, roll_id, fact, context, ids)
    _ended(state, fact.drive, ids)
    state.begun_last[fact.drive] = ids
    for roll_id in ids:
        judge_short(state, roll_id, context, at)


def checked(state: CardState, fact: CopyChecked, at: Moment, context: Context) -> None:
    """A copy was checked; a check without a finish counts as one."""
    if _named(fact):
        if _closes_by_name(state, fact, context, at):
            closed_by_implication(state, fact, at)
        rolls = _meant(state, fact)
    else:
        rolls = _continued(state, fact, context, at)
        if not rolls:
            closed_by_implication(state, fact, at)
            rolls = _wanted(state, context, at)
    if not _found(state, fact, rolls):
        return
    ids = tuple(roll.id for roll in rolls)
    for roll_id in ids:
        attempts.check(state, roll_id, fact, context, ids)
    _ended(state, fact.drive, ids)
    if fact.id in state.rolls[ids[0]].finishes:
        state.begun_last[fact.drive] = ids
        for roll_id in ids:
            judge_short(state, roll_id, context, at)


def failed(state: CardState, fact: CopyFailed, at: Moment, context: Context) -> None:
    """A copy went wrong: what was on that drive of this roll counts no more."""
    rolls = _meant(state, fact) if _named(fact) else _continued(state, fact, context, at)
    from_card = True
    if _found(state, fact, rolls):
        there = [(roll, attempts.on_drive(roll, fact.drive, context, at)) for roll in rolls]
        new = all(copy.attempt is None and copy.finish is None for _, copy in there)
        from_card = any(attempts.made_from(copy, roll) is None for roll, copy in there)
        for roll in rolls:
            attempts.fail(state, roll.id, fact, context)
            if fact.reason in ("short", "differs"):
                state.mishap(fact.id, f"copy_{fact.reason}", roll.id, fact.drive)
            elif fact.reason == "unreadable" and from_card:
                state.mishap(fact.id, "card_unreadable", roll.id, fact.drive)
        _ended(state, fact.drive, [roll.id for roll in rolls])
        if new:
            state.begun_last[fact.drive] = tuple(roll.id for roll in rolls)
    if fact.reason == "unreadable" and from_card:
        state.set_aside = (*state.set_aside, "it could not be read")


def lost(state: CardState, fact: CopyLost, at: Moment, context: Context) -> None:
    """A copy is gone; without a roll, every copy of this card on that drive."""
    if _named(fact):
        rolls = _meant(state, fact)
    else:
        drive = fact.drive
        every = list(state.rolls.values())
        rolls = [roll for roll in every if attempts.has_copy(roll, drive, context, at)]
    if not _found(state, fact, rolls):
        return
    for roll in rolls:
        attempts.lose(state, roll.id, fact)
    _ended(state, fact.drive, [roll.id for roll in rolls])


# Which rolls a copy fact is about


def _named(fact: CopyFact) -> bool:
    return fact.roll is not None or fact.roll_id is not None


def _meant(state: CardState, fact: CopyFact) -> list[Roll]:
    """The roll that the fact names, which may be one that the card held earlier."""
    roll = state.named(fact.roll, fact.roll_id)
    if roll is None:
        return []
    if roll.parted_from is not None and _of_old_part(roll, fact):
        return [state.rolls[roll.parted_from]]
    return [roll]


def _of_old_part(roll: Roll, fact: CopyFact) -> bool:
    """Whether a fact about the rest of a roll is about what was wiped while it was resumed.

    A start from the card is always new; a finish is, after the next pull. While the rest is in
    the camera, a drive can only give what was pulled before.
    """
    if roll.closed is None and getattr(fact, "made_from", None) is not None:
        return fact.roll_id is None
    new = isinstance(fact, CopyStarted) or (isinstance(fact, CopyFinished) and roll.closed)
    if new or fact.roll_id is not None:
        return False
    return attempts.is_of_parted(roll, fact.drive)


def _wanted(state: CardState, context: Context, at: Moment) -> list[Roll]:
    """What a copy that names no roll is of: all that is not covered, else all that owes."""
    owing = [roll for roll in state.closed_rolls() if owes(roll)]
    return [roll for roll in owing if not covered(roll, context, at)] or owing


def _under_way(state: CardState, fact: CopyFact, context: Context, at: Moment) -> list[Roll]:
    """The rolls that are being copied to the drive."""
    rolls = [state.rolls[i] for i in state.under_way.get(fact.drive, ())]
    return [r for r in rolls if attempts.on_drive(r, fact.drive, context, at).attempt is not None]


def _continued(state: CardState, fact: CopyFact, context: Context, at: Moment) -> list[Roll]:
    """The attempt under way on the drive, else the last one there."""
    last = [state.rolls[i] for i in state.begun_last.get(fact.drive, ())]
    return _under_way(state, fact, context, at) or last


def _found(state: CardState, fact: CopyFact, rolls: list[Roll]) -> bool:
    if not rolls:
        state.mishap(fact.id, "copy_of_nothing")
    return bool(rolls)


def _names_open(state: CardState, fact: CopyFact) -> bool:
    roll = state.named(fact.roll, fact.roll_id)
    return roll is not None and roll.id == state.opened


def _closes_by_name(
    state: CardState, fact: CopyFinished | CopyChecked, context: Context, at: Moment
) -> bool:
    """Whether a finish or a check of the open roll says that the card is out of the camera.

    Not if it goes on with what was copied of an earlier filling, or from another drive.
    """
    if state.opened is None or not _names_open(state, fact):
        return False
    roll = state.rolls[state.opened]
    parted = attempts.is_of_parted(roll, fact.drive) and fact.roll_id is None
    if parted or attempts.is_of_earlier(roll, fact.drive):
        return False
    here = attempts.on_drive(roll, fact.drive, context, at)
    return here.attempt is None and here.finish is None


def _ended(state: CardState, drive: str, gone: Sequence[str]) -> None:
    """These rolls are no longer being copied to the drive."""
    if drive not in state.under_way:
        return
    left = [i for i in state.under_way[drive] if i not in gone]
    if left:
        state.under_way[drive] = tuple(left)
    else:
        del state.under_way[drive]
