"""One card: what it is, what it holds, what may be done with it, what happened."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from flask import make_response, redirect, request
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.domain.errors import CardwrightError, UnknownLabel
from tracker.services import photos
from tracker.services.card_lines import CardPage
from tracker.services.card_page import card_page
from tracker.services.errors import Refused
from tracker.services.roles import may
from tracker.web import session
from tracker.web.errors import ANSWERS
from tracker.web.guard import allowed, not_yours
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.web.pages.card_act import Act
from tracker.web.pages.card_asking import Asked, at_first
from tracker.web.pages.card_asks import sure
from tracker.web.pages.card_form import rolls_of
from tracker.web.pages.card_table import ACTS, next_acts, other_acts
from tracker.wire.faults import BadInput

SHOWN_AT_ONCE = 20
"""Entries of its history, and rolls that it held before, so that a phone gets it quickly."""


@pages.get("/cards/<path:label>")
@allowed("look")
def card(label: str) -> Any:
    """A card, by its label or a former one; with `?act=` the form for that."""
    try:
        shown = card_page(session.service(), label)
    except UnknownLabel:
        # A form of it was here, and the page is asked for once more.
        of, _, word = label.rpartition("/")
        if word not in ACTS or not of:
            raise
        shown = card_page(session.service(), of)
    if shown.label != label:
        query = request.query_string.decode("ascii", "replace")
        return redirect(address(shown.label) + (f"?{query}" if query else ""), code=303)
    act = request.args.get("act")
    if act is None:
        return _card(shown)
    if act not in ACTS:
        raise NotFound
    return form(shown, ACTS[act])


@pages.get("/photos/<sha256>")
@allowed("look")
def photo(sha256: str) -> Response:
    """A photograph of damage."""
    known = re.fullmatch(r"[0-9a-f]{64}", sha256)
    content = photos.read_photo(session.service(), sha256) if known else None
    if content is None:
        raise NotFound
    answer = make_response(content)
    answer.mimetype = "image/jpeg"
    return answer


def address(label: str) -> str:
    """The page of a card."""
    return f"/cards/{quote(label)}"


def _may(action: str) -> bool:
    return may(session.signed_in().role, action)


def _card(shown: CardPage) -> Any:
    every = request.args.get("history") == "all"
    return page(
        "card.html",
        card=shown,
        here=address(shown.label),
        acts=next_acts(shown, _may),
        others=other_acts(shown, _may),
        history=shown.history if every else shown.history[:SHOWN_AT_ONCE],
        earlier=shown.earlier if every else shown.earlier[:SHOWN_AT_ONCE],
        rolls=rolls_of(shown),
        asks=lambda act: bool(at_first(shown, act).says),
    )


def form(
    shown: CardPage,
    act: Act,
    *,
    wrong: CardwrightError | None = None,
    asked: Asked | None = None,
) -> Any:
    """The page of one act. asked: what is to be looked at first, where it was sent already.

    Errors: Forbidden.
    """
    if not _may(act.action):
        raise not_yours(session.signed_in().role, act.action)
    about = _about(shown, act)
    asking = asked is not None
    asked = asked or at_first(shown, act)
    return page(
        "card_act.html",
        status=409 if asking else _status(wrong),
        card=shown,
        here=address(shown.label),
        act=act,
        asks=asked.says,
        lines=[*shown.rolls, *(line for line in shown.earlier if line.roll.id in asked.rolls)],
        sure=sure(shown, asked.says),
        faults=_faults(wrong),
        asking=asking,
        about=about,
        rolls=rolls_of(shown),
    )


@dataclass(frozen=True, slots=True)
class About:
    """What a form is about, beside the card. to_do: what to do first, if anything."""

    says: str
    to_do: str = ""


def _about(shown: CardPage, act: Act) -> About | None:
    """The entry, the damage or the mishap that a form is about. Errors: NotFound."""
    wanted = request.values.get
    if act.word == "take-back":
        found = [About(f"Entry {one['number']}: {one['says']}") for one in shown.history
                 if one["id"] == wanted("fact")]  # fmt: skip
    elif act.word == "settle-damage":
        found = [About(f"Its {one.part}: {one.text}") for one in shown.damage
                 if one.id == wanted("damage")]  # fmt: skip
    elif act.word == "settle":
        found = [
            About(one.says, one.mishap.kind.to_do)
            for one in shown.mishaps
            if (one.mishap.key.fact, one.mishap.key.kind) == (wanted("target"), wanted("mishap"))
            and (one.roll or "", one.mishap.key.drive or "")
            == (wanted("roll", ""), wanted("drive", ""))
        ]
    else:
        return None
    if not found:
        raise NotFound("This does not stand any more: somebody may have dealt with it.")
    if len(found) > 1:
        # A fact that settles something names the roll, and here the name means several.
        return About(f"{found[0].says}: {len(found)} rolls, settled together", found[0].to_do)
    return found[0]


def _status(wrong: CardwrightError | None) -> int:
    if wrong is None:
        return 200
    return next((ANSWERS[kind][0] for kind in type(wrong).__mro__ if kind in ANSWERS), 409)


def _faults(wrong: CardwrightError | None) -> list[str]:
    if isinstance(wrong, BadInput):
        return [fault.message for fault in wrong.faults]
    if isinstance(wrong, Refused):
        return [f"{reason.says}: {reason.settles}." for reason in wrong.reasons]
    return [] if wrong is None else [str(wrong)]
