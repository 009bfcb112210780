"""What the cart says of a card: copies and their checks, and what post received."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

from tracker.domain.facts import FailReason
from tracker.services import acts_clearing, acts_copies, rolls_meant
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.web.pages import card_meant as meant
from tracker.web.pages import card_sense as sense
from tracker.web.pages.card_act import DRIVE, NOTE, READER, REASON, ROLL, Act, copies_of, words
from tracker.web.pages.card_form import Field


def _offloaded(service: Service, who: Who, card: str, **said: Any) -> Logged:
    return acts_copies.offloaded(service, who, [card], **said)


def _each(event: str) -> Callable[..., Logged]:
    """Says it of each of the rolls that the form means."""

    def say(service: Service, who: Who, card: str, *, rolls: Any, **said: Any) -> Logged:
        if "size" in said:
            said["bytes"] = said.pop("size")
        return rolls_meant.of_each(service, who, event, card, rolls, **said)

    return say


NOT_THERE = "every roll on it that is not backed up, and not on that drive"
NOT_BACKED_UP = "every roll on it that is not backed up"
THE_ONE = "the roll on it that is not backed up"
ON_THAT_DRIVE = "the roll on it that is on that drive"

COPIES = (
    Act(
        "offloaded",
        "offloaded",
        "It was copied to today\u2019s drives",
        "Log it as offloaded",
        _offloaded,
        (),
        lambda card: bool(card.todays) and sense.owing(card) and not sense.in_camera(card),
        tries=True,
        cautions=("It is logged as copied, not checked: leave the tape on.", READER),
    ),
    Act(
        "copying",
        "copy_started",
        "A copy began",
        "Log that the copy began",
        _each("copy_started"),
        (
            DRIVE,
            copies_of(meant.to_copy, NOT_THERE),
            Field("made_from", "Made from another drive", "made from"),
        ),
        sense.owing,
        tries=True,
        cautions=(READER,),
    ),
    Act(
        "copied",
        "copy_finished",
        "A copy is finished",
        "Log the copy",
        _each("copy_finished"),
        (
            DRIVE,
            copies_of(meant.to_copy, NOT_THERE),
            Field("made_from", "Made from another drive", "made from"),
            Field(
                "size",
                "Size of the copy, if you know",
                "size",
                help="With its unit, such as 480 GB.",
            ),
        ),
        sense.closed,
        tries=True,
        cautions=("It counts as claimed until it is checked.", READER),
    ),
    Act(
        "checked",
        "copy_checked",
        "A copy was checked",
        "Log the check",
        _each("copy_checked"),
        (
            DRIVE,
            copies_of(meant.checked, NOT_BACKED_UP),
            Field(
                "level",
                "How it was checked",
                "one of",
                needed=True,
                choices=(
                    ("claimed", "claimed: a person says that it is good"),
                    ("listed", "listed: names and sizes agree with the card"),
                    ("checksummed", "checksummed: checksums agree with those of the card"),
                    ("reread", "reread: read back afterwards, and checksums computed anew"),
                ),
            ),
            Field(
                "proof",
                "The 64 characters of the proof kept here",
                help="Without a proof the check counts as claimed.",
            ),
        ),
        sense.closed,
        tries=True,
    ),
    Act(
        "copy-failed",
        "copy_failed",
        "A copy failed",
        "Log that the copy failed",
        _each("copy_failed"),
        (
            DRIVE,
            copies_of(meant.failed, THE_ONE),
            Field(
                "reason",
                "What went wrong",
                "one of",
                needed=True,
                choices=words(get_args(FailReason)),
            ),
            NOTE,
        ),
        sense.closed,
        tries=True,
        cautions=("If the card could not be read: stop. Do not format, repair or write to it.",),
    ),
    Act(
        "copy-lost",
        "copy_lost",
        "A copy is gone, its drive is not",
        "Log the copy as lost",
        _each("copy_lost"),
        (DRIVE, copies_of(meant.lost, ON_THAT_DRIVE), REASON),
        sense.copies,
        tries=True,
    ),
    Act(
        "received",
        "received",
        "Post received a roll",
        "Log what post says",
        acts_clearing.received,
        (
            ROLL,
            Field("received_from", "Who in post says so", needed=True),
            Field(
                "verdict",
                "What they say",
                "pick",
                needed=True,
                choices=(("good", "good"), ("bad", "bad")),
            ),
            NOTE,
        ),
        sense.closed,
    ),
)
