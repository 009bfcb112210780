"""What facts about copies make of the rolls of a card.

A copy fact may name its roll, or leave that to the rules: a start means what is not covered yet;
a finish, a check or a failure belongs to the attempt of that card on that drive. A copy made
from another drive says nothing of where the card is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

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
from tracker.domain.mishaps import MishapKey
from tracker.domain.rolls import (
    UNKNOWN,
    Attempt,
    Check,
    Copy,
    Ending,
    Figure,
    Figures,
    Finish,
    Roll,
    falls_short,
    figures,
    owes,
)
from tracker.domain.rule import Context, covered


def started(state: CardState, fact: CopyStarted, at: Moment, context: Context) -> None:
    """A copy began."""
    if fact.made_from is None:
        state.missing = False
        if state.opened is not None and _names_open_or_none(state, fact):
            closed_by_implication(state, fact, at)
    rolls = _meant(state, fact) if _named(fact) else _wanted(state, context, at)
    if not _found(state, fact, rolls):
        return
    for roll in rolls:
        _begin(state, roll.id, fact, at, context)
    state.begun_last[fact.drive] = state.under_way[fact.drive] = tuple(r.id for r in rolls)


def finished(state: CardState, fact: CopyFinished, at: Moment, context: Context) -> None:
    """A copy is on the drive."""
    from_card = fact.made_from is None
    if from_card:
        state.missing = False
    if _named(fact):
        if from_card and _closes_by_name(state, fact):
            closed_by_implication(state, fact, at)
        rolls = _meant(state, fact)
    else:
        rolls = [state.rolls[i] for i in state.under_way.get(fact.drive, ())]
        if not rolls:
            if from_card:
                closed_by_implication(state, fact, at)
            rolls = _wanted(state, context, at)
    if not _found(state, fact, rolls):
        return
    ids = tuple(roll.id for roll in rolls)
    for roll_id in ids:
        _finish(state, roll_id, fact, at, context, ids)
    _ended(state, fact.drive, ids)
    state.begun_last[fact.drive] = ids
    for roll_id in ids:
        judge_short(state, roll_id, context, at)


def checked(state: CardState, fact: CopyChecked, at: Moment, context: Context) -> None:
    """A copy was checked; a check without a finish counts as one."""
    if _named(fact):
        if _closes_by_name(state, fact):
            closed_by_implication(state, fact, at)
        rolls = _meant(state, fact)
    else:
        rolls = _continued(state, fact)
        if not rolls:
            closed_by_implication(state, fact, at)
            rolls = _wanted(state, context, at)
    if not _found(state, fact, rolls):
        return
    ids = tuple(roll.id for roll in rolls)
    for roll_id in ids:
        _check(state, roll_id, fact, at, context, ids)
    _ended(state, fact.drive, ids)
    state.begun_last[fact.drive] = ids
    for roll_id in ids:
        judge_short(state, roll_id, context, at)


def failed(state: CardState, fact: CopyFailed, at: Moment, context: Context) -> None:
    """A copy went wrong: what was on that drive of this roll counts no more."""
    rolls = _meant(state, fact) if _named(fact) else _continued(state, fact)
    from_card = True
    if _found(state, fact, rolls):
        from_card = any(_made_from_card(roll, fact.drive) for roll in rolls)
        for roll in rolls:
            _fail(state, roll.id, fact, at, context)
            if fact.reason in ("short", "differs"):
                state.mishap(fact.id, f"copy_{fact.reason}", roll.id, fact.drive)
            elif fact.reason == "unreadable" and from_card:
                state.mishap(fact.id, "card_unreadable", roll.id, fact.drive)
        _ended(state, fact.drive, [roll.id for roll in rolls])
    if fact.reason == "unreadable" and from_card:
        state.set_aside = (*state.set_aside, "it could not be read")


def lost(state: CardState, fact: CopyLost, at: Moment, context: Context) -> None:
    """A copy is gone; without a roll, every copy of this card on that drive."""
    if _named(fact):
        rolls = [roll for roll in _meant(state, fact) if _has(roll, fact.drive)]
    else:
        rolls = [roll for roll in state.rolls.values() if _has(roll, fact.drive)]
    if not _found(state, fact, rolls):
        return
    for roll in rolls:
        roll = state.edit(roll.id)
        for book in (roll.copies, roll.earlier):
            if fact.drive in book:
                book[fact.drive] = Copy(fact.drive, ended="lost")
    _ended(state, fact.drive, [roll.id for roll in rolls])


# Which rolls a copy fact is about


def _named(fact: CopyFact) -> bool:
    return fact.roll is not None or fact.roll_id is not None


def _meant(state: CardState, fact: CopyFact) -> list[Roll]:
    """The roll that the fact names, which may be one that the card held earlier."""
    roll = state.named(fact.roll, fact.roll_id)
    if roll is None:
        return []
    late = isinstance(fact, CopyChecked | CopyFailed | CopyLost)
    if late and roll.parted_from is not None and _is_of_earlier(roll, fact.drive):
        return [state.rolls[roll.parted_from]]
    return [roll]


def _wanted(state: CardState, context: Context, at: Moment) -> list[Roll]:
    """What a copy that names no roll is of: all that is not covered, else all that owes."""
    owing = [roll for roll in state.closed_rolls() if owes(roll)]
    return [roll for roll in owing if not covered(roll, context, at)] or owing


def _continued(state: CardState, fact: CopyFact) -> list[Roll]:
    """The attempt under way on the drive, else the last one there."""
    ids = state.under_way.get(fact.drive) or state.begun_last.get(fact.drive, ())
    return [state.rolls[i] for i in ids]


def _found(state: CardState, fact: CopyFact, rolls: list[Roll]) -> bool:
    if not rolls:
        state.mishap(fact.id, "copy_of_nothing")
    return bool(rolls)


def _names_open_or_none(state: CardState, fact: CopyFact) -> bool:
    return not _named(fact) or _names_open(state, fact)


def _names_open(state: CardState, fact: CopyFact) -> bool:
    roll = state.named(fact.roll, fact.roll_id)
    return roll is not None and roll.id == state.opened


def _closes_by_name(state: CardState, fact: CopyFinished | CopyChecked) -> bool:
    """Whether a finish or a check of the open roll says that the card is out of the camera.

    Not if it goes on with what was copied of an earlier filling, or from another drive.
    """
    if state.opened is None or not _names_open(state, fact):
        return False
    roll = state.rolls[state.opened]
    if _is_of_earlier(roll, fact.drive):
        return False
    here = roll.copies.get(fact.drive)
    return here is None or (here.attempt is None and here.finish is None)


def _is_of_earlier(roll: Roll, drive: str) -> bool:
    """Whether a late fact on a drive is about a copy of an earlier filling.

    It is, as long as nothing new of this roll was begun or finished there.
    """
    return drive in roll.earlier and drive not in roll.copies


def _has(roll: Roll, drive: str) -> bool:
    return any(
        book[drive].attempt is not None or book[drive].finish is not None
        for book in (roll.copies, roll.earlier)
        if drive in book
    )


def _made_from_card(roll: Roll, drive: str) -> bool:
    book = roll.earlier if _is_of_earlier(roll, drive) else roll.copies
    copy = book.get(drive)
    if copy is None:
        return True
    if copy.attempt is not None:
        return copy.attempt.made_from is None
    return copy.finish is None or roll.finishes[copy.finish].made_from is None


def _ended(state: CardState, drive: str, gone: Sequence[str]) -> None:
    """These rolls are no longer being copied to the drive."""
    left = tuple(i for i in state.under_way.get(drive, ()) if i not in gone)
    if left:
        state.under_way[drive] = left
    else:
        state.under_way.pop(drive, None)


# What becomes of a copy


def _standing(copy: Copy | None, roll: Roll, drive: str, context: Context, at: Moment) -> Copy:
    """The copy as it stands on a drive, where everything is gone if it was emptied since."""
    if copy is None:
        return Copy(drive)
    emptied = context.drives[drive].at(at).emptied
    if emptied is None:
        return copy
    attempt = copy.attempt if copy.attempt and copy.attempt.at > emptied else None
    finish = copy.finish if copy.finish and roll.finishes[copy.finish].at > emptied else None
    ended = copy.ended if attempt or finish else None
    return Copy(drive, attempt, finish, ended)


def _begin(state: CardState, roll_id: str, fact: CopyStarted, at: Moment, context: Context) -> None:
    """A start does not end a copy that stands: the end of the attempt decides."""
    roll = state.edit(roll_id)
    # While a resumed roll is in the camera, a drive can only give what it held before.
    book = roll.earlier if roll.closed is None and roll.resumed else roll.copies
    copy = _standing(book.get(fact.drive), roll, fact.drive, context, at)
    book[fact.drive] = replace(copy, attempt=Attempt(fact.id, at, fact.made_from))


def _finish(
    state: CardState,
    roll_id: str,
    fact: CopyFinished,
    at: Moment,
    context: Context,
    rolls: tuple[str, ...],
) -> None:
    """A finish ends the attempt under way, or replaces the figures of the copy that stands."""
    roll = state.edit(roll_id)
    in_camera = roll.closed is None and roll.resumed
    before = in_camera and (fact.made_from is not None or _is_of_earlier(roll, fact.drive))
    book = roll.earlier if before else roll.copies
    copy = _standing(
        book.get(fact.drive) or roll.earlier.get(fact.drive), roll, fact.drive, context, at
    )
    given = figures(fact.bytes, fact.clips, fact.seconds, measured=fact.measured)
    made_from = fact.made_from or _source(copy, roll)
    _put(state, roll, book, fact, at, context, rolls, given, made_from)


def _check(
    state: CardState,
    roll_id: str,
    fact: CopyChecked,
    at: Moment,
    context: Context,
    rolls: tuple[str, ...],
) -> None:
    """A check goes on with the attempt under way, else with the copy that stands."""
    roll = state.edit(roll_id)
    book = roll.earlier if _is_of_earlier(roll, fact.drive) else roll.copies
    copy = _standing(book.get(fact.drive), roll, fact.drive, context, at)
    check = Check(fact.level, fact.proof, believed=fact.source != "live")
    if copy.attempt is None and copy.finish is not None:
        finish = roll.finishes[copy.finish]
        roll.finishes[copy.finish] = replace(finish, checks=(*finish.checks, check))
    elif copy.attempt is not None or copy.ended not in ("short", "differs"):
        source = _source(copy, roll)
        _put(state, roll, book, fact, at, context, rolls, UNKNOWN, source, checks=(check,))


def _fail(state: CardState, roll_id: str, fact: CopyFailed, at: Moment, context: Context) -> None:
    """A failure ends the attempt, and the copy that it was made over."""
    roll = state.edit(roll_id)
    book = roll.earlier if _is_of_earlier(roll, fact.drive) else roll.copies
    copy = _standing(book.get(fact.drive), roll, fact.drive, context, at)
    ended: Ending = "failed"
    if fact.reason == "short" or fact.reason == "differs":
        ended = fact.reason
        if copy.finish is not None and copy.attempt is None:
            finish = roll.finishes[copy.finish]
            roll.finishes[copy.finish] = replace(finish, proved=ended, proved_by=fact.id)
    book[fact.drive] = Copy(fact.drive, ended=ended)


def _put(
    state: CardState,
    roll: Roll,
    book: dict[str, Copy],
    fact: CopyFinished | CopyChecked,
    at: Moment,
    context: Context,
    rolls: tuple[str, ...],
    given: Figures,
    made_from: str | None,
    checks: tuple[Check, ...] = (),
) -> None:
    """Write a finish into a book (`copies` or `earlier`) of a roll."""
    parent = None
    if made_from is not None:
        parent = _standing(book.get(made_from), roll, made_from, context, at).finish
    roll.finishes[fact.id] = Finish(
        fact=fact.id,
        at=at,
        drive=fact.drive,
        figures=given,
        rolls=rolls,
        fillings=tuple(state.rolls[i].fillings for i in rolls),
        made_from=made_from,
        parent=parent,
        checks=checks,
    )
    book[fact.drive] = Copy(fact.drive, finish=fact.id)


def _source(copy: Copy, roll: Roll) -> str | None:
    """What the attempt under way, or else the copy that stands, is made from."""
    if copy.attempt is not None:
        return copy.attempt.made_from
    return None if copy.finish is None else roll.finishes[copy.finish].made_from


# Short copies


def judge_short(state: CardState, roll_id: str, context: Context, at: Moment) -> None:
    """Compare every copy of a roll with what the roll is known to hold.

    A short copy makes a mishap, which belongs to its own finish and stands until it is settled,
    even when the copy counts again. A copy of several rolls is compared by their sum.
    """
    for finish in list(state.rolls[roll_id].standing()):
        known = _known(state, roll_id, finish)
        if known is None or _gone(finish, context, at):
            continue
        short = any(_is_short(finish, source) for source in known)
        if short == finish.short:
            continue
        for member in finish.rolls:
            if finish.fact in state.rolls[member].finishes:
                roll = state.edit(member)
                roll.finishes[finish.fact] = replace(roll.finishes[finish.fact], short=short)
                if short:
                    state.mishap(finish.fact, "copy_short", member, finish.drive)


def _gone(finish: Finish, context: Context, at: Moment) -> bool:
    emptied = context.drives[finish.drive].at(at).emptied
    return emptied is not None and emptied > finish.at


def _known(state: CardState, roll_id: str, finish: Finish) -> list[Figures] | None:
    """What speaks of the size of what a finish should hold; None where nothing can be said."""
    if len(finish.rolls) == 1:
        roll = state.rolls[roll_id]
        others = [
            other.figures
            for other in roll.standing()
            if other.fact != finish.fact and len(other.rolls) == 1
        ]
        return [roll.figures, *others]
    members = [state.rolls[i] for i in finish.rolls]
    if tuple(member.fillings for member in members) != finish.fillings:
        return None
    each = [member.figures for member in members]
    return [
        Figures(_sum([f.bytes for f in each]), _sum([f.clips for f in each])),
    ]


def _sum(each: list[Figure | None]) -> Figure | None:
    known = [figure for figure in each if figure is not None]
    if len(known) < len(each):
        return None
    return Figure(sum(f.value for f in known), all(f.measured for f in known))


def _is_short(finish: Finish, source: Figures) -> bool:
    settled = finish.settled or UNKNOWN
    return _less(finish.figures.bytes, source.bytes, settled.bytes) or _less(
        finish.figures.clips, source.clips, settled.clips
    )


def _less(of: Figure | None, known: Figure | None, settled: Figure | None) -> bool:
    """Whether it falls short of a figure greater than the one that a person has settled."""
    if settled is not None and known is not None and known.value <= settled.value:
        return False
    return falls_short(of, known)


def settle_short(state: CardState, key: MishapKey, context: Context, at: Moment) -> None:
    """A person says that a copy is not short: it holds for the figures that are known now."""
    assert key.roll is not None
    roll = state.edit(key.roll)
    for finish in list(roll.finishes.values()):
        if finish.proved_by == key.fact and finish.proved == "short":
            roll.finishes[finish.fact] = replace(finish, proved=None, proved_by=None)
            book = roll.copies if finish.drive in roll.copies else roll.earlier
            if book.get(finish.drive) == Copy(finish.drive, ended="short"):
                book[finish.drive] = Copy(finish.drive, finish=finish.fact)
    settled = roll.finishes.get(key.fact)
    if settled is None:
        return
    for member in settled.rolls:
        _settle(state, member, settled)
    for member in settled.rolls:
        judge_short(state, member, context, at)


def _settle(state: CardState, roll_id: str, finish: Finish) -> None:
    known = _known(state, roll_id, finish) or []
    most = Figures(_most([f.bytes for f in known]), _most([f.clips for f in known]))
    roll = state.edit(roll_id)
    roll.finishes[finish.fact] = replace(roll.finishes[finish.fact], settled=most)


def _most(each: list[Figure | None]) -> Figure | None:
    return max((f for f in each if f is not None), key=lambda f: f.value, default=None)
