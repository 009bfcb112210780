"""Leave to format a card, given and withdrawn; and rolls that owe nothing."""

from __future__ import annotations

from tracker.services import acts_clearing
from tracker.services.card_lines import CardPage
from tracker.web import forms, session
from tracker.web.pages import card_asks as asks
from tracker.web.pages import card_sense as sense
from tracker.web.pages.card_act import CAMERA_ONLY, ONE_COPY, REASON, ROLL, Act
from tracker.web.pages.card_form import Field
from tracker.wire.faults import Fault


def _promise_is_wrong(_card: CardPage, said: asks.Values) -> list[Fault]:
    """A second person authorises it, and a promise is of what is to come."""
    wrong = []
    me, other = session.signed_in().name, str(said["authorised_by"])
    if " ".join(other.split()).casefold() == " ".join(me.split()).casefold():
        expected = "a second person: whoever logs it cannot authorise it"
        wrong.append(("“Who authorised it”", other, expected))
    if said["promise_until"] <= session.service().clock():
        given = f"{said['promise_until']:%Y-%m-%d %H:%M}"
        wrong.append(("“Until when”", given, "a time that is still to come"))
    return [fault for one in wrong for fault in forms.fault(*one).faults]


CLEARING = (
    Act(
        "clear",
        "clear",
        "Clear it, so that it may be formatted",
        "Clear it",
        acts_clearing.clear,
        (),
        sense.clearable,
        asks.clear,
        cautions=(ONE_COPY, CAMERA_ONLY),
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
        asks.against_the_rule,
        wrong=_promise_is_wrong,
        cautions=(ONE_COPY, CAMERA_ONLY),
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
        asks.owes_nothing("declared empty"),
        cautions=("Look at what is on the card first, in the camera or on the cart.",),
    ),
    Act(
        "write-off",
        "write_off",
        "A roll need not be kept",
        "Write it off",
        acts_clearing.write_off,
        (ROLL, Field("authorised_by", "Who authorised it", needed=True), REASON),
        sense.bare,
        asks.owes_nothing("written off"),
    ),
)
