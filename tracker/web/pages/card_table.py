"""Every act about one card, in one table: the pages and their addresses are made from it."""

from __future__ import annotations

from collections.abc import Callable

from tracker.services.card_lines import CardPage
from tracker.web.pages.card_act import Act
from tracker.web.pages.card_camera import FORMAT, IN_THE_CAMERA
from tracker.web.pages.card_copies import COPIES
from tracker.web.pages.card_leave import CLEARING
from tracker.web.pages.card_own import THE_CARD

GROUPS = (
    ("In the camera", IN_THE_CAMERA),
    ("Copies and checks", COPIES),
    ("Formatting", (*CLEARING, FORMAT)),
    ("The card itself", THE_CARD),
)
ACTS: dict[str, Act] = {act.word: act for _, acts in GROUPS for act in acts}

NEXT: dict[str, tuple[str, ...]] = {
    "unseen": ("check-in", "hand-over"),
    "ready": ("load", "swap"),
    "loaded": ("pull", "confirm-name"),
    "exposed": ("offloaded", "copied", "checked", "hand-over"),
    "copying": ("copied", "checked", "copy-failed"),
    "copied": ("checked", "copied"),
    "backed up": ("clear", "received", "hand-over"),
    "cleared": ("load", "swap", "withdraw-clearing"),
    "set aside": ("return",),
    "missing": ("found",),
    "retired": ("note",),
}
"""What most sensibly happens next, by status; the first that one may do stands open."""


def next_acts(card: CardPage, may: Callable[[str], bool]) -> list[Act]:
    """What somebody can sensibly log next of a card, the likeliest first."""
    words = NEXT[card.status]
    if card.probably_out:
        words = ("pull", "load", "swap")
    elif card.lost and card.status not in ("loaded", "missing", "retired"):
        # Nothing is written to it: it goes to whoever may get something back from it.
        words = ("set-aside", "hand-over", "note")
    elif card.status == "set aside" and card.at_risk:
        words = ("copied", "checked", "return")
    return [one for one in map(ACTS.__getitem__, words) if one.fits(card) and may(one.action)]


def other_acts(card: CardPage, may: Callable[[str], bool]) -> list[tuple[str, list[Act]]]:
    """All else that makes sense, by heading. A format never stands beside a pull."""
    shown = next_acts(card, may)
    groups = [
        (
            says,
            [
                one
                for one in acts
                if one not in shown and one.word != "damage" and one.fits(card) and may(one.action)
            ],
        )
        for says, acts in GROUPS
    ]
    return [(says, acts) for says, acts in groups if acts]
