"""A format: what it wiped, what was lost by it, and what a camera starts anew."""

from __future__ import annotations

from datetime import timedelta

from tracker.domain.card import CardState, LastFormat
from tracker.domain.clearing import clearing_stands
from tracker.domain.facts import CardFact, Formatted, Loaded, Moment
from tracker.domain.leaving import closed_by_implication
from tracker.domain.rolls import Roll, owes
from tracker.domain.rule import Context, covered, main_covered
from tracker.domain.short import judge_short

LATE_FORMAT = timedelta(minutes=15)
"""A format this long after the load may have wiped takes (common practice, no source)."""


def formatted(state: CardState, fact: Formatted, at: Moment, context: Context) -> None:
    """The card was formatted: in the camera that it is in, or anywhere else."""
    state.missing = False
    roll = state.open_roll()
    here = fact.where == "camera" and fact.camera in (None, roll.camera if roll else None)
    if roll is not None and here:
        late = fact.occurred_at - roll.loaded[0] > LATE_FORMAT
        format_in_camera(state, fact, at, context, late=late)
        return
    closed_by_implication(state, fact, at)
    answerable = state.answerable if roll is not None else None
    _wipe(state, fact, at, context)
    state.last_format = LastFormat(at, fact.where == "camera", fact.camera, None, fact.file_system)
    # A pull that was tapped after the format which closed its roll still belongs to that roll.
    state.answerable = answerable
    if fact.where == "computer":
        state.mishap(fact.id, "formatted_on_computer")
    _judge_file_system(state, fact, context)


def format_in_camera(
    state: CardState, fact: Loaded | Formatted, at: Moment, context: Context, *, late: bool
) -> None:
    """The camera formats the card that is in it: the open roll stays open and starts anew."""
    roll = state.open_roll()
    assert roll is not None
    if late:
        state.mishap(fact.id, "formatted_late", roll.id)
    if roll.before is not None:
        roll = _part(state, roll.id)
        judge_short(state, roll.parted_from or roll.id, context, at)
    _wipe(state, fact, at, context)
    roll = state.edit(roll.id)
    roll.formatted_since_load = True
    state.last_format = LastFormat(at, True, roll.camera, roll.body, fact.file_system)
    state.answerable = None
    _judge_file_system(state, fact, context)


def _part(state: CardState, roll_id: str) -> Roll:
    """Take a resumed roll apart: what it held at its last pull, closed, and a new one, open.

    The old part keeps its id and the copies made of it; the new one has the id of the load that
    resumed it. Late facts about the old copies find the old part by `earlier`.
    """
    old = state.edit(roll_id)
    new = Roll(
        id=old.loaded_by,
        names=(old.name,),
        camera=old.camera,
        loaded_as=old.loaded_as,
        opened=old.loaded,
        loaded=old.loaded,
        loaded_by=old.loaded_by,
        said_in=old.said_in,
        guessed=old.guessed,
        slot=old.slot,
        body=old.body,
        recording=old.recording,
        parted_from=old.id,
        parted_drives=tuple(old.earlier),
    )
    old.copies = {d: c for d, c in old.earlier.items() if d not in old.outdated}
    old.earlier = {d: c for d, c in old.earlier.items() if d in old.outdated}
    if old.before is not None:
        before = old.before
        old.figures, old.known_before = before.figures, before.known_before
        old.declared_empty, old.written_off = before.declared_empty, before.written_off
        # What post said since can only be of what it had: the part that was pulled.
        old.verdict = old.verdict or before.verdict
    old.closed, old.before = old.last_closed, None
    state.opened = new.id
    state.add(new)
    return new


def _wipe(state: CardState, fact: CardFact, at: Moment, context: Context) -> None:
    """Every closed roll goes from the card, and a clearing is used up."""
    stood = clearing_stands(state, context, at)
    # Leave that was not given against the rule stands only while all that owe are covered.
    by_rule = stood and state.clearing is not None and not state.clearing.override
    gone = state.closed_rolls()
    lost, owed = False, False
    for old in gone:
        roll = state.edit(old.id)
        roll.wiped, roll.wiped_by = at, fact.id
        roll.covered_when_wiped = by_rule or covered(roll, context, at)
        if roll.loaded_as == "mirror":
            roll.main_covered_when_wiped = main_covered(roll, context, at)
        owed = owed or owes(roll)
        if not roll.covered_when_wiped:
            lost = True
            state.mishap(fact.id, "formatted_uncovered", roll.id)
    if owed and not lost and not stood:
        state.mishap(fact.id, "formatted_uncleared")
    state.held = () if state.opened is None else (state.opened,)
    state.clearing = None
    state.seen = True


def _judge_file_system(state: CardState, fact: Loaded | Formatted, context: Context) -> None:
    if context.readable is None or fact.file_system is None:
        return
    if fact.file_system not in context.readable:
        state.mishap(fact.id, "wrong_file_system")
