"""What the cart says of a card: copies and their checks, and what post received."""

from __future__ import annotations

from typing import Any, get_args

from tracker.domain.facts import FailReason
from tracker.services import acts_clearing, acts_copies
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.web.pages import card_sense as sense
from tracker.web.pages.card_act import COPIES_OF, DRIVE, NOTE, READER, REASON, ROLL, Act, words
from tracker.web.pages.card_form import Field


def _offloaded(service: Service, who: Who, card: str, **said: Any) -> Logged:
    return acts_copies.offloaded(service, who, [card], **said)


def _copied(service: Service, who: Who, card: str, *, size: int | None, **said: Any) -> Logged:
    return acts_copies.copy_finished(service, who, card, bytes_=size, **said)


COPIES = (
    Act(
        "offloaded",
        "offloaded",
        "It was copied to today\u2019s drives",
        "Log it as offloaded",
        _offloaded,
        (),
        lambda card: bool(card.todays) and sense.owing(card) and not sense.in_camera(card),
        cautions=("It is logged as copied, not checked: leave the tape on.", READER),
    ),
    Act(
        "copying",
        "copy_started",
        "A copy began",
        "Log that the copy began",
        acts_copies.copy_started,
        (DRIVE, COPIES_OF, Field("made_from", "Made from another drive", "made from")),
        sense.owing,
        cautions=(READER,),
    ),
    Act(
        "copied",
        "copy_finished",
        "A copy is finished",
        "Log the copy",
        _copied,
        (
            DRIVE,
            COPIES_OF,
            Field("made_from", "Made from another drive", "made from"),
            Field(
                "size",
                "Size of the copy, if you know",
                "size",
                help="With its unit, such as 480 GB.",
            ),
        ),
        sense.closed,
        cautions=("It counts as claimed until it is checked.", READER),
    ),
    Act(
        "checked",
        "copy_checked",
        "A copy was checked",
        "Log the check",
        acts_copies.copy_checked,
        (
            DRIVE,
            COPIES_OF,
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
    ),
    Act(
        "copy-failed",
        "copy_failed",
        "A copy failed",
        "Log that the copy failed",
        acts_copies.copy_failed,
        (
            DRIVE,
            COPIES_OF,
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
        cautions=("If the card could not be read: stop. Do not format, repair or write to it.",),
    ),
    Act(
        "copy-lost",
        "copy_lost",
        "A copy is gone, its drive is not",
        "Log the copy as lost",
        acts_copies.copy_lost,
        (DRIVE, COPIES_OF, REASON),
        sense.copies,
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
