"""What is asked before something is logged of a card: what stands in the way, and what follows.

What happened is recorded, whatever it is; but what can lose footage is said plainly first, and
nothing is logged until somebody who has seen that says it again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from tracker.domain.permissions import Reason
from tracker.domain.plans import no_such_slot
from tracker.domain.sizes import show_bytes
from tracker.services.card_lines import CardPage, RollLine

Values = Mapping[str, Any]
"""What a form says, by field; nothing while it is not filled in."""

Asks = Callable[[CardPage, Values], list[str]]
"""What is to be looked at before an act is logged; nothing where it can simply be logged."""


# In words


def told(reason: Reason) -> str:
    """A reason, and what would settle it, as one line of a page."""
    of = f"{reason.roll}: " if reason.roll and reason.code == "lost" else ""
    return f"{of}{_sentence(reason.says)} {_sentence(reason.settles)}"


def _sentence(words: str) -> str:
    words = words[:1].upper() + words[1:]
    return words if words.endswith(".") else f"{words}."


def names(lines: Iterable[RollLine]) -> str:
    """The names of some rolls, each once."""
    return ", ".join(dict.fromkeys(line.roll.name for line in lines))


def _stops(card: CardPage) -> list[str]:
    return [told(reason) for reason in card.stops]


def _if_grave(card: CardPage, words: str) -> list[str]:
    return [words] if card.grave else []


def _unfit(card: CardPage) -> list[str]:
    """Damage for which it must not be used, where it is not told as why it is set aside."""
    aside = "\n".join(card.state.set_aside)
    return [
        f"Nobody dealt with the damage to its {one.part}, severity {one.severity} of 4: {one.text}."
        for one in card.unfit
        if f"damage to its {one.part}: {one.text}" not in aside
    ]


def _leave(card: CardPage, *but: str) -> list[str]:
    """Why there is no leave to format it."""
    return [told(reason) for reason in card.no_leave if reason.code not in but]


def _withdrawn(card: CardPage) -> list[str]:
    return [told(reason) for reason in card.no_leave if reason.code == "withdrawn"]


# By act


def nothing(_card: CardPage, _said: Values) -> list[str]:
    """It loses nothing."""
    return []


def load(card: CardPage, said: Values) -> list[str]:
    """Into a camera: formatted there, or shot on."""
    loses = "Formatting it in the camera, or shooting on it, can lose that footage."
    wiped = said.get("formatted") is not False
    of_format = () if wiped else ("hold", "withdrawn", "not cleared")
    found = [*_stops(card), *_if_grave(card, loses), *_leave(card, *of_format), *_unfit(card)]
    described = [one.camera for one in card.cameras if one.camera.letters == said.get("camera")]
    wrong = (no_such_slot(camera, said.get("slot")) for camera in described)
    return [*found, *(_sentence(words) for words in wrong if words)]


def wipe(card: CardPage, _said: Values) -> list[str]:
    """Formatted in a camera."""
    loses = (
        "Formatting loses that footage. If it has not happened yet: do not format. If it has: "
        "stop, write nothing more to the card, and tell the people who decide."
    )
    return [*_stops(card), *_if_grave(card, loses), *_leave(card)]


def clear(card: CardPage, _said: Values) -> list[str]:
    """Leave to format it."""
    if not card.rolls:
        return []
    if card.at_risk:
        first = "It may not be cleared by the rule before what is on it is backed up."
        return [*_stops(card), *_unfit(card), *_withdrawn(card), first]
    then = "Cleared, it may be formatted in the camera, and what is on it then is only on"
    mains = [line for line in card.rolls if line.main and not line.counting]
    where = f"{then} these drives." if not mains else f"{then} the drives that are named here."
    return [*_stops(card), *_unfit(card), *_withdrawn(card), where]


def against_the_rule(card: CardPage, _said: Values) -> list[str]:
    """Leave to format it, though the backup rule is not met."""
    loses = "Whoever formats it then loses what is not on other drives."
    return [*_stops(card), *_unfit(card), *_withdrawn(card), loses]


def owes_nothing(how: str) -> Asks:
    """A roll is asked for no more. how: what becomes of it, after "A roll that is"."""

    def asks(card: CardPage, _said: Values) -> list[str]:
        loses = f"A roll that is {how} is asked for no more, and the card may then be formatted."
        return [*_stops(card), loses]

    return asks


def check_in(card: CardPage, said: Values) -> list[str]:
    """Somebody looked at what is on it."""
    if said.get("found") != "empty" or not card.at_risk:
        return []
    held, are = names(card.at_risk), "is" if len(card.at_risk) == 1 else "are"
    return [
        f"It should hold {held}, which {are} not backed up. Look at the label: perhaps this is "
        "another card. If it is this one, that footage is gone from it: look again, and write "
        "nothing to it."
    ]


def hand_over(card: CardPage, said: Values) -> list[str]:
    """It leaves the production, where nobody here can keep it from being formatted."""
    if not said.get("outside") and said.get("place") != "rental house":
        return []
    loses = "Outside the production nobody here can keep it from being formatted."
    return [*_if_grave(card, loses), *_leave(card, "visiting", "missing", "retired")]


def retire(card: CardPage, _said: Values) -> list[str]:
    """It leaves the pool for good."""
    loses = "A card that leaves takes that footage along."
    return [*_if_grave(card, loses), *_leave(card, "visiting", "missing", "not cleared")]


def use_again(card: CardPage, _said: Values) -> list[str]:
    """A card that was set aside is used again."""
    loses = "Whoever uses it again can lose that footage for good."
    again = "From then on the pages offer it for use again."
    return [*_stops(card), *_unfit(card), *_if_grave(card, loses), again]


def take_back(card: CardPage, _said: Values) -> list[str]:
    """An entry goes, and with it what rests on it."""
    loses = "With an entry a roll may go that is nowhere else, and the word not to format with it."
    return _if_grave(card, loses)


# What follows, as it was tried

_REPORTS = ("copy_short", "copy_differs", "card_unreadable", "post_says_bad", "cleared_by_override")
"""Mishaps that are what somebody wants to say: those are not asked."""

_SLIPS = ("pulled_unlogged", "over_capacity", "copy_of_nothing")
"""What is no danger, and more often a slip than true."""


def breaks(card: CardPage, after: CardPage) -> list[str]:
    """What would go wrong by it, or not be so any more."""
    return [*_mishaps(card, after), *_falls(card, after)]


def gives(card: CardPage, after: CardPage) -> list[str]:
    """What would be held for good from then on, though nothing else was done."""
    return [*_rises(card, after), *_leave_then(card, after)]


def _mishaps(card: CardPage, after: CardPage) -> list[str]:
    stood = {one.mishap.key for one in card.mishaps}
    said = []
    for one in after.mishaps:
        kind = one.mishap.key.kind
        if one.mishap.key in stood:
            continue
        if kind == "pull_missing":
            where = next((line.roll.camera for line in card.rolls if line.open), None)
            of = f"camera {where}" if where else "its camera"
            said.append(f"This says that it came out of {of}, which nobody logged: {one.roll}.")
        elif kind in _SLIPS or (one.mishap.severity == "danger" and kind not in _REPORTS):
            said.append(f"From then on it says here: {one.says}. {one.mishap.kind.to_do}")
    return said


def _falls(card: CardPage, after: CardPage) -> list[str]:
    then = _lines(after)
    said = []
    for line in _lines(card).values():
        later, name = then.get(line.roll.id), line.roll.name
        if later is None and line.owes:
            said.append(f"Roll {name} is then no roll of this card any more.")
        elif later and line.covered and line.owes and not later.covered:
            where = "" if line.held else " It is not on the card any more."
            said.append(f"{name} is then not backed up any more.{where}")
    return said


def _rises(card: CardPage, after: CardPage) -> list[str]:
    then = _lines(after)
    said = []
    for line in _lines(card).values():
        later, name = then.get(line.roll.id), line.roll.name
        if later is None or line.open or not later.owes:
            continue
        said += _copies_that_count(line, later)
        said += [f"{name} then counts as backed up."] if later.covered > line.covered else []
    return said


def _lines(card: CardPage) -> dict[str, RollLine]:
    return {line.roll.id: line for line in (*card.rolls, *card.earlier)}


def _copies_that_count(line: RollLine, later: RollLine) -> list[str]:
    before = {copy.drive for copy in line.copies if copy.counts}
    return [
        f"The copy of {line.roll.name} on {copy.drive} then counts{_part(copy.bytes, line.bytes)}."
        for copy in later.copies
        if copy.counts and copy.drive not in before
    ]


def _part(there: int | None, whole: int | None) -> str:
    if there is None or whole is None or there >= whole:
        return ""
    return f", though it holds {show_bytes(there)} of {show_bytes(whole)}"


def _leave_then(card: CardPage, after: CardPage) -> list[str]:
    said = []
    if card.lost and not after.lost:
        only = "only that it is set aside keeps this card from being loaded and formatted"
        may = only if after.state.set_aside else "this card may be loaded and formatted"
        said.append(f"From then on {may}; what may be got back from it is lost then.")
    if after.may_format and not card.may_format:
        said.append("From then on it may be formatted, in the camera.")
    return said


# What somebody saw


def mark(card: CardPage) -> str:
    """A mark of all that a question about a card rests on: another one when any of it is."""
    state = card.state
    rests_on = (
        card.status, state.set_aside, state.seen, state.visiting, state.missing, state.retired,
        state.clearing, card.probably_out, sorted(repr(one.mishap.key) for one in card.mishaps),
        [one.id for one in card.damage], card.no_leave, card.rule,
        [_mark_of(line) for line in (*card.rolls, *card.earlier)],
    )  # fmt: skip
    return _short(repr(rests_on))


def _mark_of(line: RollLine) -> tuple[object, ...]:
    copies = [(c.drive, c.level, c.why, c.place) for c in line.copies]
    roll = line.roll
    return (roll.id, roll.name, roll.verdict, line.open, line.held, line.owes, line.covered,
            line.counting, line.bytes, copies, line.main)  # fmt: skip


def sure(card: CardPage, says: Iterable[str]) -> str:
    """What a form keeps of what somebody saw who was asked."""
    return ".".join([mark(card), *map(_short, says)])


def saw(given: str, card: CardPage, says: Iterable[str]) -> bool:
    """Whether somebody saw all that is asked, of a card that is as it was then."""
    seen, *words = given.split(".")
    return seen == mark(card) and all(_short(one) in words for one in says)


def _short(words: str) -> str:
    return hashlib.sha256(words.encode()).hexdigest()[:12]
