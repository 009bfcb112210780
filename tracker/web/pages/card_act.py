"""What can be said of a card: an act, its address, who may do it, and what its form asks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import get_args

from tracker.domain.facts import FileSystem
from tracker.services.card_lines import CardPage
from tracker.services.logging import Logged
from tracker.web.pages.card_asks import Asks, Values, nothing
from tracker.web.pages.card_form import Field
from tracker.web.pages.card_meant import Meant
from tracker.wire.faults import Fault


@dataclass(frozen=True, slots=True)
class Act:
    """What can be said of a card.

    word: in its address. action: in the table of roles. says: on links and at the top of its
    form. call: (service, who, label, at=, tap=, what the form says). fits: whether it makes sense
    as the facts stand. asks: what is to be looked at before it is logged. tries: whether it is
    tried first, so that what follows is asked too; at_once: before the form is filled in.
    wrong: what is wrong with what the form says, beside its fields alone. shows: whether its form
    names the rolls even where nothing is asked. cautions: what to look to at the act. timed:
    whether it happened at some time before.
    """

    word: str
    action: str
    says: str
    button: str
    call: Callable[..., Logged]
    fields: tuple[Field, ...] = ()
    fits: Callable[[CardPage], bool] = lambda _card: True
    asks: Asks = nothing
    tries: bool = False
    at_once: bool = False
    wrong: Callable[[CardPage, Values], Sequence[Fault]] = lambda _card, _said: ()
    shows: bool = False
    cautions: tuple[str, ...] = ()
    timed: bool = True


# Words that several forms share

UNMOUNT = "Unmount in the camera before pulling. The camera\u2019s manual comes first."
CAMERA_ONLY = (
    "Format in the camera only, and look at the card\u2019s label first. The camera\u2019s manual "
    "and the production\u2019s own rules come first."
)
ONE_COPY = "Never clear on the word of one copy."
READER = "Reader first, then its cable; eject before unplugging."
TAPE = "Cover sharp edges and screw mounts with tape."


def words(values: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Choices whose values are their own words."""
    return tuple((value, value) for value in values)


YES_NO = (("yes", "yes"), ("no", "no"))
ROLL = Field("roll", "Roll", "roll", needed=True)
ANY_ROLL = Field("roll_id", "Roll", "any roll", needed=True)


def copies_of(meant: Meant, which: str) -> Field:
    """A roll that a copy is of. which: what is meant where none is chosen, in words."""
    return Field("roll_id", "Roll", "copies of", choices=(("", which),), meant=meant)


DRIVE = Field("drive", "Drive", "drive", needed=True)
NOTE = Field("text", "Note, if you like", "long")
REASON = Field("reason", "Reason", "long", needed=True)
SLOT = Field("slot", "Slot, if the camera has several", "whole")
NAME = Field(
    "roll",
    "Name of the roll, if the camera shows it",
    help="Without one, the next name is guessed, and asked for later.",
)
LOADED_AS = Field(
    "loaded_as",
    "What it is loaded as",
    "one of",
    needed=True,
    choices=(
        ("main", "the main card"),
        ("continues", "going on after the card before"),
        ("mirror", "a mirror of the main card"),
        ("proxy", "proxies"),
    ),
)
FORMATTED = Field(
    "formatted", "Formatted in that camera as it went in?", "pick", needed=True, choices=YES_NO
)
FILE_SYSTEM = Field(
    "file_system", "Formatted to, if you know", "one of", choices=words(get_args(FileSystem))
)
WHERE = Field("place", "Where, if you know")
