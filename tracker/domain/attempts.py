"""What becomes of one copy: one roll on one drive, begun, finished, checked, failed, lost.

While a resumed roll is in the camera, and after its next pull until something new is begun or
finished on that drive, late facts belong to the copies of the earlier filling (`Roll.earlier`).
"""

from __future__ import annotations

from tracker.domain.card import CardState
from tracker.domain.facts import (
    CopyChecked,
    CopyFailed,
    CopyFinished,
    CopyLost,
    CopyStarted,
    Moment,
    moment,
)
from tracker.domain.rolls import (
    UNKNOWN,
    Attempt,
    Check,
    Copy,
    Ending,
    Finish,
    Roll,
    figures,
)
from tracker.domain.rule import Context


def is_of_earlier(roll: Roll, drive: str) -> bool:
    """Whether a late fact on a drive is about a copy of an earlier filling.

    It is, as long as nothing new of this roll was begun or finished there.
    """
    return drive in roll.earlier and drive not in roll.copies


def is_of_parted(roll: Roll, drive: str) -> bool:
    """Whether such a fact is about the old part of a roll that was formatted while resumed."""
    own = drive in roll.copies or drive in roll.earlier
    return drive in roll.parted_drives and not own


def in_camera_again(roll: Roll) -> bool:
    """Whether the roll is in the camera and holds what was pulled before, too."""
    return roll.closed is None and roll.before is not None


def on_drive(roll: Roll, drive: str, context: Context, at: Moment) -> Copy:
    """What a fact that comes now finds of a roll on a drive."""
    book = roll.earlier if is_of_earlier(roll, drive) else roll.copies
    return standing(book.get(drive), roll, drive, context, at)


def has_copy(roll: Roll, drive: str, context: Context, at: Moment) -> bool:
    """Whether there is anything on a drive that could be lost."""
    there = (standing(book.get(drive), roll, drive, context, at) for book in _books(roll))
    return any(copy.attempt is not None or copy.finish is not None for copy in there)


def _books(roll: Roll) -> tuple[dict[str, Copy], dict[str, Copy]]:
    return roll.copies, roll.earlier


def standing(copy: Copy | None, roll: Roll, drive: str, context: Context, at: Moment) -> Copy:
    """The copy as it stands on a drive, where everything is gone if it was emptied since."""
    if copy is None:
        return Copy(drive)
    emptied = context.drives[drive].at(at).emptied
    if emptied is None:
        return copy
    attempt = copy.attempt if copy.attempt and copy.attempt.at > emptied else None
    if copy.finish is not None and roll.finishes[copy.finish].at < emptied:
        return Copy(drive, attempt, was=copy.finish)
    if copy.ended_at is not None and copy.ended_at < emptied:
        return Copy(drive, attempt, was=copy.was)
    return copy._replace(attempt=attempt)


def begin(state: CardState, roll_id: str, fact: CopyStarted, context: Context) -> None:
    """A start does not end a copy that stands: the end of the attempt decides."""
    roll = state.edit(roll_id)
    # While a resumed roll is in the camera, a drive can only give what it held before.
    book = roll.earlier if in_camera_again(roll) else roll.copies
    at = moment(fact)
    copy = standing(book.get(fact.drive), roll, fact.drive, context, at)
    book[fact.drive] = copy._replace(attempt=Attempt(fact.id, at, fact.made_from))


def finish(
    state: CardState,
    roll_id: str,
    fact: CopyFinished,
    context: Context,
    rolls: tuple[str, ...],
) -> None:
    """A finish ends the attempt under way, or replaces the figures of the copy that stands."""
    roll = state.edit(roll_id)
    before = in_camera_again(roll) and (
        fact.made_from is not None or is_of_earlier(roll, fact.drive)
    )
    book = roll.earlier if before else roll.copies
    there = book.get(fact.drive)
    if there is None and fact.drive in roll.earlier:
        # A new copy, unless it was begun before: then it is of what it was begun from.
        there = roll.earlier[fact.drive]._replace(finish=None, was=None)
    at = moment(fact)
    copy = standing(there, roll, fact.drive, context, at)
    made = Finish(
        fact.id,
        at,
        fact.drive,
        figures(fact.bytes, fact.clips, fact.seconds, measured=fact.measured),
        rolls,
        _fillings(state, rolls),
        fact.made_from or source(copy, roll),
    )
    _put(roll, book, made, context)
    _go_on(roll, copy, made)
    if book is roll.earlier and fact.made_from is not None:
        # Whatever was there of an even earlier filling, this is of the last pull.
        roll.outdated = tuple(drive for drive in roll.outdated if drive != fact.drive)


def check(
    state: CardState,
    roll_id: str,
    fact: CopyChecked,
    context: Context,
    rolls: tuple[str, ...],
) -> None:
    """A check goes on with the attempt under way, else with the copy that stands."""
    roll = state.edit(roll_id)
    book = roll.earlier if is_of_earlier(roll, fact.drive) else roll.copies
    copy = standing(book.get(fact.drive), roll, fact.drive, context, moment(fact))
    made_check = Check(fact.level, fact.proof, believed=fact.source != "live")
    if copy.attempt is None and copy.finish is not None:
        known = roll.finishes[copy.finish]
        roll.finishes[copy.finish] = known._replace(checks=(*known.checks, made_check))
    elif copy.attempt is not None or copy.ended not in ("short", "differs"):
        made = Finish(
            fact.id,
            moment(fact),
            fact.drive,
            UNKNOWN,
            rolls,
            _fillings(state, rolls),
            source(copy, roll),
            checks=(made_check,),
        )
        _put(roll, book, made, context)
        _go_on(roll, copy, made)


def fail(state: CardState, roll_id: str, fact: CopyFailed, context: Context) -> None:
    """A failure ends the attempt, and the copy that it was made over."""
    roll = state.edit(roll_id)
    book = roll.earlier if is_of_earlier(roll, fact.drive) else roll.copies
    copy = standing(book.get(fact.drive), roll, fact.drive, context, moment(fact))
    ended: Ending = "failed"
    if fact.reason == "short" or fact.reason == "differs":
        ended = fact.reason
        if copy.finish is not None and copy.attempt is None:
            known = roll.finishes[copy.finish]
            roll.finishes[copy.finish] = known._replace(proved=ended, proved_by=fact.id)
    was = copy.finish or copy.was
    book[fact.drive] = Copy(fact.drive, ended=ended, was=was, ended_at=moment(fact))


def lose(state: CardState, roll_id: str, fact: CopyLost) -> None:
    """A copy is gone, of this filling and of the earlier one."""
    roll = state.edit(roll_id)
    for book in (roll.copies, roll.earlier):
        if fact.drive in book:
            gone = book[fact.drive]
            was = gone.finish or gone.was
            book[fact.drive] = Copy(fact.drive, ended="lost", was=was, ended_at=moment(fact))


def _put(roll: Roll, book: dict[str, Copy], finish: Finish, context: Context) -> None:
    """Write a finish into a book (`copies` or `earlier`) of a roll, with what it is made from."""
    if finish.made_from is not None and not _of_one_enclosure(finish, context):
        there = book.get(finish.made_from)
        parent = standing(there, roll, finish.made_from, context, finish.at).finish
        finish = finish._replace(parent=parent)
    roll.finishes[finish.fact] = finish
    book[finish.drive] = Copy(finish.drive, finish=finish.fact)


def _of_one_enclosure(finish: Finish, context: Context) -> bool:
    """Whether a copy was made from its own drive: partitions of one enclosure are one drive."""
    origin = context.drives[finish.made_from or finish.drive]
    return origin.enclosure == context.drives[finish.drive].enclosure


def _go_on(roll: Roll, copy: Copy, made: Finish) -> None:
    """A finish over a copy that stands goes on with it: what was made from it hangs on that."""
    old = None if copy.finish is None else roll.finishes[copy.finish]
    if old is not None and not old.short:
        roll.finishes[old.fact] = old._replace(replaced_by=made.fact)


def _fillings(state: CardState, rolls: tuple[str, ...]) -> tuple[int, ...]:
    return tuple([state.rolls[i].fillings for i in rolls])


def source(copy: Copy, roll: Roll) -> str | None:
    """What a finish or a check that goes on with it is made from.

    After a short copy a finish is a new one, from the card unless it says otherwise.
    """
    if copy.attempt is None and copy.finish is not None and roll.finishes[copy.finish].short:
        return None
    return made_from(copy, roll)


def made_from(copy: Copy, roll: Roll) -> str | None:
    """What the attempt under way, or else the copy that stands, is made from; None: the card."""
    if copy.attempt is not None:
        return copy.attempt.made_from
    return None if copy.finish is None else roll.finishes[copy.finish].made_from
