"""What is asked before an act: what the card says at once, and what follows where it is tried."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from contextlib import suppress
from dataclasses import dataclass

from flask import request

from tracker.domain.errors import CardwrightError
from tracker.services.card_lines import CardPage, RollLine
from tracker.services.card_trying import if_said
from tracker.services.service import new_id
from tracker.web import session
from tracker.web.forms import Tap
from tracker.web.pages.card_act import Act
from tracker.web.pages.card_asks import Values, breaks, gives

OF_EARLIER = ("write-off", "declare-empty")
"""Acts that may be about a roll which is not on the card any more."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be looked at before an act is logged; nothing where it can simply be logged.

    rolls: the ids of those that were on the card before, and are meant too.
    """

    says: tuple[str, ...] = ()
    rolls: frozenset[str] = frozenset()


def at_first(shown: CardPage, act: Act) -> Asked:
    """What is asked while the form is not filled in."""
    if not act.at_once:
        return _asked(shown, act, {})
    hidden = {one.name: request.values.get(one.name) for one in act.fields if one.kind == "hidden"}
    filled = {one.name: hidden.get(one.name) or _nothing_yet(one.needed) for one in act.fields}
    # An entry that cannot be taken back says so when it is sent.
    with suppress(CardwrightError):
        return before(shown, act, filled, Tap(session.who(), new_id(), None, known=False))
    return _asked(shown, act, {})


def _nothing_yet(needed: bool) -> str | None:
    return "?" if needed else None


def before(shown: CardPage, act: Act, said: Values, tap: Tap) -> Asked:
    """What is asked of what a form says. Errors: those of the act."""
    asked = _asked(shown, act, said)
    if not act.tries or (asked.says and not act.at_once):
        # What would follow is what it warns of.
        return asked
    after = if_said(
        session.service(),
        shown.label,
        lambda trying: act.call(trying, tap.who, shown.label, at=tap.at, tap=tap.id, **said),
    )
    if after is None:
        return asked
    more = [*breaks(shown, after), *(gives(shown, after) if act.at_once else [])]
    fell = _ids(line for line in shown.earlier if line.covered) - _ids(
        line for line in after.earlier if line.covered
    )
    return Asked((*asked.says, *more), asked.rolls | fell)


def _asked(shown: CardPage, act: Act, said: Values) -> Asked:
    bare = (line for line in shown.earlier if line.owes and not line.covered)
    rolls = _ids(bare) if act.word in OF_EARLIER else frozenset()
    lost = {mishap.key.roll for danger in shown.lost for mishap in danger.mishaps}
    return Asked(tuple(act.asks(shown, said)), rolls | _ids(_of(shown.earlier, lost)))


def _of(lines: Iterable[RollLine], ids: Collection[str | None]) -> Iterable[RollLine]:
    return (line for line in lines if line.roll.id in ids)


def _ids(lines: Iterable[RollLine]) -> frozenset[str]:
    return frozenset(line.roll.id for line in lines)
