"""Which rolls a form means that names none: only what is plain; else one is to be chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tracker.services.card_lines import CardPage, RollLine

Meant = Callable[[CardPage, str], "Sequence[RollLine] | str"]
"""By the card and a drive: the rolls that are meant, or why one is to be chosen."""


def to_copy(card: CardPage, drive: str) -> Sequence[RollLine] | str:
    """Of a copy that begins or is finished: every roll that is not backed up and not there yet."""
    bare = _bare(card)
    if isinstance(bare, str):
        return bare
    begun = set(card.state.under_way.get(drive, ()))
    if begun and begun != _ids(bare):
        of = " and ".join(sorted(card.state.rolls[id_].name for id_ in begun))
        return f"the copy to {drive} that was begun is of {of}; not backed up: {_names(bare)}"
    missing = [line for line in bare if line.roll.finish_on(drive) is None]
    if not missing and len(bare) > 1:
        return f"{_names(bare)} are on {drive} already"
    return missing or bare


def checked(card: CardPage, drive: str) -> Sequence[RollLine] | str:
    """Of a check: every roll that is not backed up, where all of them are on the drive, or none."""
    bare = _bare(card)
    if isinstance(bare, str):
        return bare
    there = [line for line in bare if _is_on(line, drive)]
    if there and len(there) < len(bare):
        return f"of {_names(bare)} only {_names(there)} is on {drive}"
    return bare


def failed(card: CardPage, drive: str) -> Sequence[RollLine] | str:
    """Of a failure: the roll that is not backed up, where there is one only."""
    bare = _bare(card)
    if isinstance(bare, str) or len(bare) == 1:
        return bare
    return f"{_names(bare)} are not backed up"


def lost(card: CardPage, drive: str) -> Sequence[RollLine] | str:
    """Of a copy that is gone: the roll on the card that is on the drive, where that is one."""
    there = [line for line in card.rolls if _is_on(line, drive)]
    if len(there) == 1:
        return there
    return f"{_names(there)} are on {drive}" if there else f"nothing on the card is on {drive}"


def _bare(card: CardPage) -> Sequence[RollLine] | str:
    """The rolls on the card that are not backed up; not plain while one of them is being shot."""
    opened = [line for line in card.rolls if line.open]
    if opened:
        return f"{_names(opened)} is in a camera, as far as the entries say"
    bare = [line for line in card.rolls if line.owes and not line.covered]
    return bare or "every roll on the card is backed up"


def _is_on(line: RollLine, drive: str) -> bool:
    """Whether a copy of it there is finished or under way."""
    copy = line.roll.copies.get(drive)
    return copy is not None and (copy.finish is not None or copy.attempt is not None)


def _ids(lines: Sequence[RollLine]) -> set[str]:
    return {line.roll.id for line in lines}


def _names(lines: Sequence[RollLine]) -> str:
    return " and ".join(line.roll.name for line in lines)
