"""Mishaps: facts that break a rule, how bad each is, and what to do now.

A mishap is made by a fact, never refused and never deleted. It stands until a person settles it
with a reason, or until the facts in order no longer make it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

Severity = Literal["danger", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("danger", "warning", "note")


class MishapKind(NamedTuple):
    """A kind of mishap. of_card: of the card, one a fact; otherwise one for each roll."""

    severity: Severity
    says: str
    to_do: str
    of_card: bool = False


_STOP = (
    "Stop: do not load, format, repair or write to this card. Tell the people who decide; "
    "footage may still be recovered while nothing is written."
)
_CHECK_FIRST = "Look at what is on the card before anybody uses it, and back it up."

KINDS: dict[str, MishapKind] = {
    "formatted_uncovered": MishapKind(
        "danger", "formatted while a roll on it was not backed up: footage may be lost", _STOP
    ),
    "formatted_late": MishapKind(
        "danger",
        "formatted more than 15 minutes after it was loaded: takes may be lost",
        "Ask the camera crew what was shot before the format. If anything was, stop: write "
        "nothing more to this card, and tell the people who decide. If nothing was, settle this "
        "with that as its reason.",
    ),
    "found_empty": MishapKind(
        "danger", "found empty while it should hold a roll that is not backed up", _STOP
    ),
    "formatted_uncleared": MishapKind(
        "note",
        "formatted without a clearing that stood; everything on it was backed up",
        "Nothing is lost. Remind the crew: only a card marked as cleared is formatted.",
        of_card=True,
    ),
    "formatted_on_computer": MishapKind(
        "warning",
        "formatted on a computer",
        "Format it in the camera before it is used: a camera may refuse it or drop frames.",
        of_card=True,
    ),
    "wrong_file_system": MishapKind(
        "warning",
        "formatted to a file system that no cart computer reads",
        "Choose the file system again in the camera, before anything is shot.",
        of_card=True,
    ),
    "loaded_uncovered": MishapKind(
        "danger",
        "loaded while it held a roll that is not backed up",
        "Do not format. Take the card out as soon as the camera allows, and back the roll up.",
    ),
    "loaded_unfit": MishapKind(
        "danger",
        "loaded while set aside, retired or missing",
        "Take the card out as soon as the camera allows, and back up what is on it first.",
        of_card=True,
    ),
    "left_uncovered": MishapKind(
        "danger",
        "left the production with a roll that is not backed up",
        "Call whoever has the card: it must not be formatted. Get it back, or have it copied.",
    ),
    "pull_missing": MishapKind(
        "warning",
        "nobody logged that it was pulled",
        "Log when it came out and what the camera showed, so that a short copy can be seen.",
    ),
    "pulled_unlogged": MishapKind(
        "warning", "pulled, but nobody logged that it was loaded", _CHECK_FIRST
    ),
    "pulled_mounted": MishapKind(
        "note",
        "pulled without being unmounted",
        "Check the last clip. Unmount in the camera before pulling: see the camera's manual.",
        of_card=True,
    ),
    "over_capacity": MishapKind(
        "warning",
        "its rolls add up to more than the card can hold",
        "Compare the figures with the camera: a number is wrong, or a format was not logged.",
    ),
    "card_unreadable": MishapKind(
        "danger",
        "could not be read",
        "Stop. Do not format, repair or write. Try another cable, reader and computer once, "
        "read only; then ask those who decide.",
    ),
    "copy_short": MishapKind(
        "danger",
        "a copy holds less than the roll",
        "Keep the card. Find what is missing, copy the roll again in full, or settle it with a "
        "reason if the figure was wrong.",
    ),
    "copy_differs": MishapKind(
        "danger",
        "a copy differs from the roll",
        "Keep the card. Copy the roll again to another drive, through another cable and reader.",
    ),
    "copy_of_nothing": MishapKind(
        "note",
        "a copy was logged, but the card holds no such roll",
        "Check the label and the roll: perhaps another card was copied.",
        of_card=True,
    ),
    "cleared_uncovered": MishapKind(
        "danger",
        "cleared though the facts do not support it",
        "Do not format. Check which copies there really are, and make those that are wanting.",
        of_card=True,
    ),
    "cleared_by_override": MishapKind(
        "danger",
        "cleared against the backup rule",
        "Keep the promise that was given, and then settle this.",
        of_card=True,
    ),
    "covered_no_more": MishapKind(
        "danger",
        "a roll was backed up when its card was wiped, and is not any more",
        "The card no longer has it. Make another copy of the roll from a good one now.",
    ),
    "post_says_bad": MishapKind(
        "danger",
        "post says that a roll is bad",
        "Keep the card. Check every copy, copy again from the card, and tell post.",
    ),
    "order_doubtful": MishapKind(
        "note",
        "logged with a time that its device may not claim",
        "Check the clock of that device, and what happened when.",
        of_card=True,
    ),
}


class MishapKey(NamedTuple):
    """What makes a mishap the same mishap: (fact, kind, roll by id, drive)."""

    fact: str
    kind: str
    roll: str | None = None
    drive: str | None = None


@dataclass(frozen=True, slots=True)
class Mishap:
    """A mishap as it stands. settled_by: the fact that settled it, if any."""

    key: MishapKey
    settled_by: str | None = None

    @property
    def kind(self) -> MishapKind:
        """What kind it is."""
        return KINDS[self.key.kind]

    @property
    def severity(self) -> Severity:
        """How bad it is."""
        return self.kind.severity

    @property
    def stands(self) -> bool:
        """Whether nobody has settled it."""
        return self.settled_by is None
