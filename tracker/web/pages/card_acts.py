"""What is logged about a card: one address for each act of the table, each with its own right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import redirect, request

from tracker.domain.errors import CardwrightError, UnknownLabel
from tracker.services import codes
from tracker.services.as_drawn import AskAgain
from tracker.services.card_page import CardPage, card_page
from tracker.services.card_trying import alone
from tracker.services.photos import MOST, MOST_BYTES
from tracker.web import forms, session
from tracker.web.forms import Tap
from tracker.web.guard import allowed
from tracker.web.pages import pages
from tracker.web.pages.card import address, form
from tracker.web.pages.card_act import Act
from tracker.web.pages.card_asking import before
from tracker.web.pages.card_asks import Values, mark, saw
from tracker.web.pages.card_form import read
from tracker.web.pages.card_table import ACTS
from tracker.wire.rows import refuse

ENDPOINT = "card_act_"


def _address_for(act: Act) -> None:
    def said(label: str) -> Any:
        return _said(act, label)

    said.__name__ = ENDPOINT + act.word.replace("-", "_")
    said.__doc__ = act.says
    view: Callable[[str], Any] = allowed(act.action)(said)
    pages.post(f"/cards/<path:label>/{act.word}")(view)


for _act in ACTS.values():
    _address_for(_act)


@pages.url_value_preprocessor
def _room_for_photographs(endpoint: str | None, _values: Any) -> None:
    """Four photographs are more than any other form sends; nothing else may be as large."""
    if endpoint == f"pages.{ENDPOINT}damage":
        request.max_content_length = MOST * MOST_BYTES + 2**20


def _said(act: Act, label: str) -> Any:
    """Log what a form says; or ask, or say what is wrong, with what was typed kept."""
    shown = card_page(session.service(), label)
    if request.form.get("of", shown.id) != shown.id:
        # The label went to another card while the form was open.
        raise UnknownLabel("card", f"{label} of that page", ())
    try:
        tap = forms.tap()
        if tap.known:
            return forms.done(address(shown.label), tap)
        said = read(act.fields, shown)
        refuse(act.wrong(shown, said))
        asked = before(shown, act, said, tap)
        if asked.says and not saw(request.form.get("sure", ""), shown, asked.says):
            return form(shown, act, asked=asked)
        _log(act, shown, tap, said)
    except CardwrightError as error:
        return form(shown, act, wrong=error)
    if act.word == "take-back" and codes.by_label(session.service(), shown.label) is None:
        # Its registration was taken back: it has no page any more.
        return redirect(f"/now?said={tap.id}", code=303)
    return forms.done(address(shown.label), tap)


def _log(act: Act, shown: CardPage, tap: Tap, said: Values) -> None:
    """Log it, if the card is still as it was looked at. Errors: AskAgain, and those of the act."""
    with alone(session.service()) as inside:
        if mark(card_page(inside, shown.label)) != mark(shown):
            raise AskAgain("Somebody logged something of this card at this moment.")
        act.call(inside, tap.who, shown.label, at=tap.at, tap=tap.id, **said)
