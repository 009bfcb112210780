"""What each card needs next, and who acts: in the crew's words, what is in danger first."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from tracker.domain.facts import END, START, Moment
from tracker.domain.mishaps import MishapKind
from tracker.domain.permissions import enough_copies, kept_until, may_clear
from tracker.domain.rule import Context
from tracker.domain.status import CardView, Status, made_standing
from tracker.domain.whereabouts import in_hands

WHO: dict[Status, str] = {
    "unseen": "data manager",
    "ready": "data manager",
    "loaded": "camera crew",
    "exposed": "loader",
    "copying": "cart",
    "copied": "data manager",
    "backed up": "data manager",
    "cleared": "loader",
    "set aside": "data manager",
    "missing": "everyone",
    "retired": "nobody",
}

_ORDER: dict[Status, int] = {
    "exposed": 2,
    "copied": 3,
    "copying": 4,
    "missing": 5,
    "set aside": 6,
    "unseen": 7,
    "backed up": 8,
    "loaded": 9,
    "cleared": 10,
    "ready": 11,
    "retired": 12,
}


@dataclass(frozen=True, slots=True)
class Need:
    """What a card needs next.

    rank: the lower, the sooner somebody must look. may_format: None where the question does not
    arise (a card in a camera, an empty ready one). since: when the oldest uncovered roll closed.
    """

    card: CardView
    rank: int
    who: str
    what: str
    may_format: bool | None
    since: Moment | None


def need(card: CardView, context: Context) -> Need:
    """What one card needs next."""
    gone = bool(card.uncovered) and card.status in ("missing", "retired", "set aside")
    if gone:
        rank = 0
    elif _stops(card) is not None or (card.uncovered and _in_danger(card)):
        rank = 1
    else:
        rank = _ORDER["retired" if card.state.given_back and not card.uncovered else card.status]
    since = min((roll.closed or END for roll in card.uncovered), default=None)
    return Need(card, rank, _who(card, context), _what(card, context), _may_format(card), since)


def _who(card: CardView, context: Context) -> str:
    if card.status == "exposed" and all(enough_copies(one, context) for one in card.uncovered):
        # Nobody has to bring it: what is wanting is where a copy is, or what post says.
        return WHO["copied"]
    if card.state.given_back and card.status == "backed up":
        return WHO["retired"]
    return WHO[card.status]


IF_OUT = (
    "Do not format: it is probably out, shot and not copied. Log it as pulled, or as loaded again "
    "if it is in."
)
"""What a card needs that is probably out: it is treated as exposed until somebody says."""

RANK_IF_OUT = _ORDER["exposed"]
"""The rank of such a card, unless its own is lower."""


def needs(
    cards: list[CardView], context: Context, probably_out: Collection[str] = ()
) -> list[Need]:
    """What every card needs next: what is in danger first, and of that the oldest.

    probably_out: labels of cards that the doubts say are out of their camera.
    """
    found = [need(card, context) for card in cards]
    found = [
        replace(n, rank=min(n.rank, RANK_IF_OUT), who=WHO["exposed"], what=IF_OUT,
                may_format=False)
        if n.card.label in probably_out and n.card.status == "loaded" else n
        for n in found
    ]  # fmt: skip
    return sorted(found, key=lambda n: (n.rank, n.since or START, n.card.label))


def _in_danger(card: CardView) -> bool:
    return any(mishap.severity == "danger" for mishap in made_standing(card.state))


_LOST = ("formatted_uncovered", "formatted_late", "found_empty")
_NOT_YET_SAID = ("ready", "cleared", "backed up", "loaded")
"""Where nothing else says that the card must be left alone."""


def loss(card: CardView) -> MishapKind | None:
    """What may have been lost from a card and got back from it, until a person settles it.

    None where that is not so, or where something else says that the card must be left alone.
    """
    if card.status not in _NOT_YET_SAID:
        return None
    kinds = (m.kind for m in made_standing(card.state) if m.key.kind in _LOST)
    return next(kinds, None)


def _stops(card: CardView) -> str | None:
    kind = loss(card)
    if kind is None:
        return None
    where = f"In camera {card.camera}. " if card.status == "loaded" else ""
    return f"{where}{_capital(kind.says)}. {kind.to_do}"


def _may_format(card: CardView) -> bool | None:
    if card.uncovered or _stops(card) is not None:
        return False
    if card.status == "cleared":
        return True
    return None if card.status in ("ready", "loaded", "retired") else False


def _what(card: CardView, context: Context) -> str:
    names = ", ".join(dict.fromkeys(roll.name for roll in card.uncovered))
    if (stops := _stops(card)) is not None:
        return stops
    match card.status:
        case "missing":
            lost = f" It is gone with {names}, which is not backed up." if names else ""
            return f"Look for it, and log it as found.{lost}"
        case "retired":
            lost = f"It left with {names}, which is not backed up: call whoever has it."
            return lost if names else "Nothing: it is out of the pool."
        case "set aside":
            why = "; ".join(card.state.set_aside)
            kept = f" Do not format: {names} is not backed up." if names else ""
            return f"Do not use: {why}.{kept} A data manager decides."
        case "loaded":
            below = f" Do not format: it also holds {names}." if names else ""
            roll = card.state.open_roll()
            shot = "" if roll is None else f", shooting {roll.name}"
            return f"In camera {card.camera}{shot}. Unmount before pulling.{below}"
        case "unseen":
            return "Look at what is on it, and check it in."
        case "ready":
            return "Ready for a camera."
        case "cleared" if not card.holds and not card.uncovered:
            return "Format it in the camera before it is used."
        case "cleared" if names:
            return (
                f"Do not format unless whoever authorised it stands by it: {names} is not backed "
                "up, and it was cleared against the rule."
            )
        case "cleared":
            return "May be formatted, in the camera."
        case "backed up" if card.state.given_back and card.state.holder is not None:
            given = card.state.holder
            return f"Nothing: it is with {in_hands(given.to, given.place, given.outside)} again."
        case "backed up" if card.state.visiting and card.state.last_format is not None:
            return (
                "Give it back, and tell its owner that it was formatted here: of what is known to "
                "have been on it nothing is uncovered."
            )
        case "backed up" if card.state.visiting:
            return "Give it back: nothing on it is uncovered."
        case "backed up":
            return f"Everything on it is covered: clear it{_not_before(card, context)}."
    return _copies(card, context)


def _not_before(card: CardView, context: Context) -> str:
    """Until when the rule keeps what is on it, in words that stay true when that is over."""
    kept = [(kept_until(roll, context), roll.name) for roll in card.holds]
    last, name = max(((u, n) for u, n in kept if u is not None), default=(None, ""))
    if last is None:
        return ""
    shown = f"{last.astimezone(context.zone):%Y-%m-%d %H:%M}"
    return f", but not before {shown} (roll {name} is kept on it until then)"


def _copies(card: CardView, context: Context) -> str:
    """What is wanting before a card that was shot may be formatted."""
    reasons = [r for r in may_clear(card.state, context) if r.code not in ("visiting", "unseen")]
    if card.status == "copying":
        names = ", ".join(roll.name for roll in card.uncovered)
        return f"Being copied ({names}). Do not format; check the copies when they are done."
    said = [f"{_capital(reason.says)}: {reason.settles}." for reason in reasons]
    return " ".join(["Do not format.", *said])


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
