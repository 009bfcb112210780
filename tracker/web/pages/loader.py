"""The pages of the loader, who stands beside the camera with a phone: large, short, one thumb."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from flask import redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.domain.codes import BadCode
from tracker.domain.errors import UnknownLabel
from tracker.services import (
    acts_camera,
    acts_card,
    acts_copies,
    acts_drive,
    beside_camera,
    codes,
    taps,
)
from tracker.services.card_page import CardPage, card_page
from tracker.services.codes import Coded, NobodysCode
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages

MOST = 40
"""Cards that are scanned for one tap."""


def address(coded: Coded) -> str:
    """The page of a card or drive, by its code where it has one."""
    if coded.kind == "card" and coded.code is not None:
        return url_for("pages.by_code", code=coded.code)
    return f"/{coded.kind}s/{quote(coded.label)}"


@pages.get("/loader")
@allowed("look")
def loader() -> Any:
    """Where a loader begins: a camera's letters, or a card's code."""
    return page("loader.html", cameras=beside_camera.cameras(session.service()), last=_last())


@pages.get("/c/<code>")
@pages.get("/C/<code>", endpoint="by_code_in_capitals")
@allowed("look")
def by_code(code: str) -> Any:
    """What this card is, and what can sensibly happen next."""
    try:
        coded = codes.whose(session.service(), code)
    except (BadCode, NobodysCode) as error:
        return page("loader_mistyped.html", status=404, wrong=str(error), typed=code)
    if coded.kind == "drive":
        return redirect(address(coded), code=303)
    card = card_page(session.service(), coded.label)
    return page(
        "loader_card.html",
        card=card,
        code=coded.code,
        into=beside_camera.into(session.service(), card) if _may_go_in(card) else [],
        todays=acts_drive.todays_drives(session.service()),
        owing=[one for one in card.rolls if one.owes and not one.open and not one.covered],
        last=_last(),
    )


def _may_go_in(card: CardPage) -> bool:
    return card.status != "retired" and (card.status != "loaded" or card.probably_out)


def _last() -> tuple[str, ...]:
    """What one's last tap logged, where the page does not tell it already."""
    if "said" in request.args:
        return ()
    return taps.last(session.service(), session.who())


def _label(code: str) -> str:
    """The label of the card with a code. Errors: BadCode, NobodysCode, NotFound for a drive."""
    coded = codes.whose(session.service(), code)
    if coded.kind != "card":
        raise NotFound
    return coded.label


@pages.post("/c/<code>/into")
@allowed("swap")
def goes_in(code: str) -> Response:
    """The card went into a camera; the one that was in it came out."""
    tap, label = forms.tap(), _label(code)
    camera = forms.text("camera", needed=True) or ""
    if not tap.known:
        formatted = request.form.get("formatted") == "on"
        acts_camera.swap(
            session.service(), tap.who, label, camera, formatted=formatted, at=tap.at, tap=tap.id
        )
    return forms.done(url_for("pages.by_code", code=code), tap.id)


@pages.post("/c/<code>/out")
@allowed("pull")
def comes_out(code: str) -> Response:
    """The card came out of its camera."""
    tap, label = forms.tap(), _label(code)
    if not tap.known:
        said = {"yes": True, "no": False}.get(request.form.get("unmounted", ""))
        acts_camera.pull(session.service(), tap.who, label, unmounted=said, at=tap.at, tap=tap.id)
    return forms.done(url_for("pages.by_code", code=code), tap.id)


@pages.post("/c/<code>/missing")
@allowed("report_missing")
def is_missing(code: str) -> Response:
    """Nobody knows where the card is."""
    tap, label = forms.tap(), _label(code)
    if not tap.known:
        place = forms.text("place")
        acts_card.report_missing(
            session.service(), tap.who, label, place=place, at=tap.at, tap=tap.id
        )
    return forms.done(url_for("pages.by_code", code=code), tap.id)


@pages.get("/camera/<path:letters>")
@allowed("look")
def camera(letters: str) -> Any:
    """What is in a camera; for a card in a camera cannot be scanned."""
    found = beside_camera.camera(session.service(), letters)
    if found is None:
        known = [one.letters for one in beside_camera.cameras(session.service())]
        raise UnknownLabel("camera", letters, known)
    return page("loader_camera.html", camera=found, last=_last())


@pages.get("/several")
@allowed("look")
def several() -> Any:
    """Cards that were scanned one after the other, for one tap."""
    added = request.args.get("add", "").strip()
    given = [*request.args.getlist("card"), *([added] if added else [])][:MOST]
    wrong = None
    try:
        cards = beside_camera.several(session.service(), given)
    except (BadCode, NobodysCode, UnknownLabel) as error:
        wrong = str(error)
        cards = beside_camera.several(session.service(), request.args.getlist("card")[:MOST])
    todays = acts_drive.todays_drives(session.service())
    shown = [card_page(session.service(), one.label) for one in cards]
    return page(
        "loader_several.html", cards=shown, todays=todays, wrong=wrong, last=_last(),
        status=200 if wrong is None else 404,
    )  # fmt: skip


@pages.post("/several/cart")
@allowed("hand_over")
def to_the_cart() -> Response:
    """Cards went to the cart."""
    tap, cards = forms.tap(), _cards()
    if not tap.known:
        acts_card.hand_over(
            session.service(), tap.who, cards, "the cart", "cart", at=tap.at, tap=tap.id
        )
    return forms.done(url_for("pages.loader"), tap.id)


@pages.post("/several/offloaded")
@allowed("offloaded")
def are_offloaded() -> Response:
    """Cards are said to be copied to today's drives."""
    tap, cards = forms.tap(), _cards()
    if not tap.known:
        acts_copies.offloaded(session.service(), tap.who, cards, at=tap.at, tap=tap.id)
    return forms.done(url_for("pages.loader"), tap.id)


def _cards() -> list[str]:
    """The labels that a form is about. Errors: BadInput."""
    cards = [card for card in request.form.getlist("card") if card.strip()]
    if not 1 <= len(cards) <= MOST:
        raise forms.fault("card", f"{len(cards)} cards", f"1 to {MOST}")
    return cards
