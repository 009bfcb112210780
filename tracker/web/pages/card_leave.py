"""Leave to format a card, given and withdrawn; and rolls that owe nothing."""

from __future__ import annotations

from tracker.services import acts_clearing
from tracker.web.pages import card_sense as sense
from tracker.web.pages.card_act import CAMERA_ONLY, ONE_COPY, REASON, ROLL, Act
from tracker.web.pages.card_form import Field

CLEARING = (
    Act(
        "clear",
        "clear",
        "Clear it, so that it may be formatted",
        "Clear it",
        acts_clearing.clear,
        (),
        sense.clearable,
        lambda card, _: bool(card.rolls),
        "",
        (ONE_COPY, CAMERA_ONLY),
        timed=False,
    ),
    Act(
        "clear-against-the-rule",
        "clear_against_the_rule",
        "Clear it against the backup rule",
        "Clear it against the rule",
        acts_clearing.clear_against_the_rule,
        (
            Field("override_reason", "Why it cannot wait", "long", needed=True),
            Field(
                "authorised_by", "Who authorised it", needed=True, help="A second person, by name."
            ),
            Field("promise", "What will be done instead", "long", needed=True),
            Field("promise_by", "Who will do it", needed=True),
            Field("promise_until", "Until when", "time", needed=True),
        ),
        sense.against,
        sense.always,
        "Whoever formats it then loses what is not on other drives.",
        (ONE_COPY, CAMERA_ONLY),
        timed=False,
    ),
    Act(
        "withdraw-clearing",
        "withdraw_clearing",
        "Do not format it after all",
        "Withdraw the clearing",
        acts_clearing.withdraw_clearing,
        (REASON,),
        lambda card: card.status == "cleared" and card.state.clearing is not None,
    ),
    Act(
        "declare-empty",
        "declare_empty",
        "Nothing was shot on a roll",
        "Log it as empty",
        acts_clearing.declare_empty,
        (ROLL,),
        sense.bare,
        sense.wiping_loses,
        "A roll that is declared empty is asked for no more, and the card may then be formatted.",
        ("Look at what is on the card first, in the camera or on the cart.",),
    ),
    Act(
        "write-off",
        "write_off",
        "A roll need not be kept",
        "Write it off",
        acts_clearing.write_off,
        (ROLL, Field("authorised_by", "Who authorised it", needed=True), REASON),
        sense.bare,
        sense.wiping_loses,
        "A roll that is written off is asked for no more, and the card may then be formatted.",
    ),
)
