"""Why a copy does not count: said of each copy, beside whether it does (see `rule.py`)."""

from __future__ import annotations

from tracker.domain.drives import Drive
from tracker.domain.facts import LEVELS, Moment
from tracker.domain.rolls import Copy, Finish, Roll
from tracker.domain.rule import RANK, Context, awaited_proofs, parent_of, rank, sound

_ENDED = {
    "failed": "the copying failed",
    "short": "it holds less than the roll",
    "differs": "it differs from the roll",
    "lost": "it was lost",
}


def why_not(copy: Copy, roll: Roll, context: Context, at: Moment) -> str | None:
    """Why a copy does not count for the backup rule at a moment; None if it does."""
    if copy.finish is None:
        return "it is being made" if copy.attempt is not None else _ENDED[copy.ended or "lost"]
    finish = roll.finishes[copy.finish]
    return (
        _drive(context.drives[copy.drive], finish, at)
        or _unsound(finish, roll)
        or _level(finish, roll, context, at)
    )


def _drive(drive: Drive, finish: Finish, at: Moment) -> str | None:
    state = drive.at(at)
    if state.returned:
        return "the drive went back"
    if state.failed:
        return "the drive does not work"
    if state.lost:
        return "nobody knows where the drive is"
    if state.emptied is not None and finish.at < state.emptied:
        return "the drive was emptied since"
    return None


def _unsound(finish: Finish, roll: Roll) -> str | None:
    if finish.proved is not None:
        return _ENDED[finish.proved]
    if finish.short:
        return _ENDED["short"]
    if sound(finish, roll):
        return None
    if parent_of(finish, roll) is None:
        return f"it was made from {finish.made_from}, where there was no copy of it"
    return f"the copy on {finish.made_from}, which it was made from, is not good"


def _level(finish: Finish, roll: Roll, context: Context, at: Moment) -> str | None:
    level, wanted = rank(finish, roll, context, at), context.rules.at(roll, at).level
    if level >= RANK[wanted]:
        return None
    waits = " (its proof is not kept here yet)" if awaited_proofs(finish, roll, context) else ""
    return f"it is {LEVELS[level]}; the rule asks for {wanted}{waits}"
