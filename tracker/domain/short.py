"""Short copies: those that hold less than the roll, or than another copy of it, is known to hold.

A short copy does not count. Its mishap belongs to its own finish and stands until a person
settles it, for the figures known then. A manifest that agrees only with itself proves nothing
about what is missing: that is why figures are compared.
"""

from __future__ import annotations

from tracker.domain.card import CardState
from tracker.domain.facts import Moment
from tracker.domain.mishaps import MishapKey
from tracker.domain.rolls import UNKNOWN, Copy, Figure, Figures, Finish, Roll, falls_short
from tracker.domain.rule import Context, lineage


def judge_short(state: CardState, roll_id: str, context: Context, at: Moment) -> None:
    """Compare every copy of a roll with what the roll is known to hold.

    A short copy makes a mishap, which belongs to its own finish and stands until it is settled,
    even when the copy counts again. A copy of several rolls is compared by their sum.
    """
    if _all_agree(state.rolls[roll_id]):
        return
    for finish in _judged(state.rolls[roll_id], context, at):
        known = None if finish.figures is UNKNOWN else _known(state, roll_id, finish)
        if known is None:
            continue
        alone = len(finish.rolls) == 1
        for member in finish.rolls:
            own = state.rolls[member].finishes.get(finish.fact)
            if own is None or not (alone or _stands(state.rolls[member], own)):
                continue
            short = any(_is_short(own, source) for source in known)
            if short != own.short:
                state.edit(member).finishes[own.fact] = own._replace(short=short)
                if short:
                    state.mishap(own.fact, "copy_short", member, own.drive)


def _all_agree(roll: Roll) -> bool:
    """Whether no figure of a roll differs from another: then nothing falls short, as is usual."""
    sizes, clips = set(), set()
    for finish in roll.finishes.values():
        if finish.short or len(finish.rolls) > 1:
            return False
        sizes.add(finish.figures.bytes and finish.figures.bytes.value)
        clips.add(finish.figures.clips and finish.figures.clips.value)
    for known in (roll.figures, *roll.known_before):
        sizes.add(known.bytes and known.bytes.value)
        clips.add(known.clips and known.clips.value)
    return len(sizes - {None}) <= 1 and len(clips - {None}) <= 1


def _judged(roll: Roll, context: Context, at: Moment) -> list[Finish]:
    """The copies that stand, and those that they were made from, wherever those are now.

    A copy of several rolls is judged as long as it stands for one of them.
    """
    shared = [finish for finish in roll.finishes.values() if len(finish.rolls) > 1]
    there = [finish for finish in roll.standing() if not _gone(finish, context, at)]
    if not shared and all(finish.parent is None for finish in there):
        return there
    line = [one for finish in there for one in lineage(finish, roll)]
    return list({one.fact: one for one in [*line, *shared]}.values())


def _stands(roll: Roll, finish: Finish) -> bool:
    copy = roll.copies.get(finish.drive)
    return copy is not None and copy.finish == finish.fact


def _gone(finish: Finish, context: Context, at: Moment) -> bool:
    emptied = context.drives[finish.drive].at(at).emptied
    return emptied is not None and emptied > finish.at


def _known(state: CardState, roll_id: str, finish: Finish) -> list[Figures] | None:
    """What speaks of the size of what a finish should hold; None where nothing can be said."""
    if len(finish.rolls) == 1:
        roll = state.rolls[roll_id]
        return [roll.figures, *roll.copied_alone(but=finish.fact), *roll.known_before]
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
    if finish.figures == source:
        return False
    settled = finish.settled or UNKNOWN
    return _less(finish.figures.bytes, source.bytes, settled.bytes) or _less(
        finish.figures.clips, source.clips, settled.clips
    )


def _less(of: Figure | None, known: Figure | None, settled: Figure | None) -> bool:
    """Whether it falls short of a figure greater than the one that a person has settled."""
    if of is None or known is None or known.value <= of.value:
        return False
    if settled is not None and known.value <= settled.value:
        return False
    return falls_short(of, known)


def settle_short(state: CardState, key: MishapKey, context: Context, at: Moment) -> None:
    """A person says that a copy is not short: it holds for the figures that are known now."""
    assert key.roll is not None
    roll = state.edit(key.roll)
    for finish in list(roll.finishes.values()):
        if finish.proved_by == key.fact and finish.proved == "short":
            roll.finishes[finish.fact] = finish._replace(proved=None, proved_by=None)
            book = roll.copies if finish.drive in roll.copies else roll.earlier
            there = book.get(finish.drive)
            if there is not None and (there.ended, there.was) == ("short", finish.fact):
                book[finish.drive] = Copy(finish.drive, finish=finish.fact)
            _settle(state, key.roll, finish)
    settled = roll.finishes.get(key.fact)
    if settled is not None:
        _settle(state, key.roll, settled)
        judge_short(state, key.roll, context, at)


def _settle(state: CardState, roll_id: str, finish: Finish) -> None:
    known = _known(state, roll_id, finish) or []
    most = Figures(_most([f.bytes for f in known]), _most([f.clips for f in known]))
    roll = state.edit(roll_id)
    roll.finishes[finish.fact] = roll.finishes[finish.fact]._replace(settled=most)


def _most(each: list[Figure | None]) -> Figure | None:
    return max((f for f in each if f is not None), key=lambda f: f.value, default=None)
