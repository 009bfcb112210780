"""What is logged about a card: one address for each act of the table, each with its own right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import redirect, request

from tracker.domain.errors import CardwrightError, UnknownLabel
from tracker.services import codes
from tracker.services.card_page import card_page
from tracker.services.photos import MOST, MOST_BYTES
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.pages import pages
from tracker.web.pages.card import address, form, sure
from tracker.web.pages.card_act import Act
from tracker.web.pages.card_form import read
from tracker.web.pages.card_table import ACTS

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
            return forms.done(address(shown.label), tap.id)
        said = read(act.fields, shown)
        if act.risks(shown, said) and request.form.get("sure") != sure(shown):
            return form(shown, act, asking=True)
        act.call(session.service(), tap.who, shown.label, at=tap.at, tap=tap.id, **said)
    except CardwrightError as error:
        return form(shown, act, wrong=error)
    if act.word == "take-back" and codes.by_label(session.service(), shown.label) is None:
        # Its registration was taken back: it has no page any more.
        return redirect(f"/now?said={tap.id}", code=303)
    return forms.done(address(shown.label), tap.id)
