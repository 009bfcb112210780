"""What is said of a card itself: whose hands it is in, whether it is fit, and what was wrong."""

from __future__ import annotations

from typing import Any, get_args

from tracker.domain.facts import BodyPart, CardPlace
from tracker.services import acts_back, acts_card, photos
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.web.pages import card_asks as asks
from tracker.web.pages import card_sense as sense
from tracker.web.pages.card_act import NOTE, READER, REASON, TAPE, WHERE, Act, words
from tracker.web.pages.card_form import Field


def _take_in_hand(service: Service, who: Who, card: str, **said: Any) -> Logged:
    return acts_card.hand_over(service, who, [card], **said)


def _take_back(service: Service, who: Who, _card: str, *, at: Any, tap: str, **said: Any) -> Logged:
    return acts_back.take_back(service, who, said["fact"], said["reason"], tap=tap)


def _damage(service: Service, who: Who, card: str, *, severity: str, **said: Any) -> Logged:
    return photos.note_damage_with(service, who, card, severity=int(severity), **said)


THE_CARD = (
    Act(
        "check-in",
        "check_in",
        "Somebody looked at what is on it",
        "Check it in",
        acts_card.check_in,
        (
            Field(
                "found",
                "What is on it?",
                "pick",
                needed=True,
                choices=(("empty", "nothing"), ("footage", "footage")),
            ),
            NOTE,
        ),
        lambda card: sense.in_pool(card) and not sense.in_camera(card),
        asks.check_in,
        tries=True,
        shows=True,
        cautions=("Look, and write nothing to it. " + READER,),
    ),
    Act(
        "hand-over",
        "hand_over",
        "It changed hands",
        "Log who has it",
        _take_in_hand,
        (
            Field("to", "Who has it now", needed=True),
            Field("place", "Place", "one of", needed=True, choices=words(get_args(CardPlace))),
            Field("outside", "It leaves the production", "tick"),
        ),
        sense.in_pool,
        asks.hand_over,
        tries=True,
        cautions=(TAPE,),
    ),
    Act(
        "set-aside",
        "set_aside",
        "Hold it out of use",
        "Set it aside",
        acts_card.set_aside,
        (REASON,),
        lambda card: card.status not in ("set aside", "retired"),
    ),
    Act(
        "return",
        "return_to_service",
        "Use it again",
        "Return it to service",
        acts_card.return_to_service,
        (REASON,),
        lambda card: card.status == "set aside",
        asks.use_again,
        cautions=("What is on it is still on it: copy it before it goes into a camera.",),
    ),
    Act(
        "damage",
        "note_damage",
        "Note damage",
        "Log the damage",
        _damage,
        (
            Field(
                "part", "What is damaged", "one of", needed=True, choices=words(get_args(BodyPart))
            ),
            Field(
                "severity",
                "How bad it is",
                "one of",
                needed=True,
                choices=(
                    ("1", "1: cosmetic"),
                    ("2", "2: to be watched"),
                    ("3", "3: do not use"),
                    ("4", "4: dangerous (sharp, swollen, hot)"),
                ),
            ),
            Field("text", "What you see", "long", needed=True),
            Field(
                "photos",
                "Photographs, up to 4",
                "photos",
                help="Of at most 12 MB each, as JPEG, PNG or WebP. Where and when they were taken "
                "is not kept.",
            ),
        ),
        cautions=(TAPE, "If it is swollen or hot: put it down, and keep away from it."),
    ),
    Act(
        "settle-damage",
        "settle_damage",
        "The damage was dealt with",
        "Log that it was dealt with",
        acts_card.settle_damage,
        (
            Field("damage", "", "hidden", needed=True),
            Field("text", "What was done", "long", needed=True),
        ),
        lambda _: False,
    ),
    Act(
        "settle",
        "settle",
        "Settle what went wrong",
        "Settle it",
        acts_card.settle,
        (
            Field("target", "", "hidden", needed=True),
            Field("mishap", "", "hidden", needed=True),
            Field("roll", "", "hidden"),
            Field("drive", "", "hidden"),
            Field("reason", "Why it no longer stands", "long", needed=True),
        ),
        lambda _: False,
        tries=True,
        at_once=True,
        timed=False,
    ),
    Act(
        "take-back",
        "take_back",
        "Take an entry back",
        "Take it back",
        _take_back,
        (Field("fact", "", "hidden", needed=True), REASON),
        lambda _: False,
        asks.take_back,
        tries=True,
        at_once=True,
        timed=False,
    ),
    Act(
        "missing",
        "report_missing",
        "Nobody knows where it is",
        "Report it missing",
        acts_card.report_missing,
        (Field("place", "Where it was seen last, if you know"), NOTE),
        lambda card: card.status not in ("missing", "retired"),
    ),
    Act(
        "found",
        "found",
        "It was found",
        "Log it as found",
        acts_card.found,
        (WHERE, NOTE),
        lambda card: card.status == "missing",
        cautions=("Look at what is on it before anybody uses it.",),
    ),
    Act(
        "relabel",
        "relabel",
        "It has a new label",
        "Log the new label",
        acts_card.relabel,
        (Field("new_label", "New label, as it is printed", "label", needed=True),),
        sense.in_pool,
    ),
    Act(
        "retire",
        "retire",
        "It leaves the pool for good",
        "Retire it",
        acts_card.retire,
        (
            Field(
                "reason", "Why", "one of", needed=True, choices=words(get_args(acts_card.Leaving))
            ),
            NOTE,
        ),
        sense.in_pool,
        asks.retire,
        tries=True,
    ),
    Act(
        "note",
        "note",
        "Add a note",
        "Log the note",
        acts_card.note,
        (Field("text", "Note", "long", needed=True),),
        timed=False,
    ),
)
