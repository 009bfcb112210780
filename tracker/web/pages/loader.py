"""The pages of the loader, who stands beside the camera with a phone: large, short, one thumb."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, get_args
from urllib.parse import quote, urlencode

from flask import redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.domain.codes import BadCode
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import LoadedAs
from tracker.services import (
    acts_camera,
    acts_card,
    acts_copies,
    acts_drive,
    beside_camera,
    codes,
    taps,
)
from tracker.services.card_lines import CardPage, RollLine
from tracker.services.card_page import card_page
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
        asked_for=beside_camera.copies_asked(session.service()),
        todays=card.todays,
        owing=_owing(card),
        last=_last(),
    )


def _may_go_in(card: CardPage) -> bool:
    return card.status != "retired" and (card.status != "loaded" or card.probably_out)


def _owing(card: CardPage) -> list[RollLine]:
    """The rolls on it that are not backed up, and not on each of today's drives yet."""
    bare = [one for one in card.rolls if one.owes and not one.open and not one.covered]
    return [one for one in bare if not card.todays or not _on_each(one, card.todays)]


def _on_each(roll: RollLine, drives: Iterable[str]) -> bool:
    return set(drives) <= {copy.drive for copy in roll.copies if copy.level is not None}


def _last() -> tuple[str, ...]:
    """What one's last tap logged, where the page does not offer to take that back already."""
    service, who = session.service(), session.who()
    told = taps.told(service, who, request.args["said"]) if "said" in request.args else None
    return () if told is not None and told.mine else taps.last(service, who)


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
    slot, camera = _into()
    if not tap.known:
        formatted = request.form.get("formatted") == "on"
        acts_camera.swap(
            session.service(), tap.who, label, camera, slot=slot, formatted=formatted,
            loaded_as="main" if slot is None else _recorded(), at=tap.at, tap=tap.id,
        )  # fmt: skip
    return forms.done(url_for("pages.by_code", code=code), tap.id)


def _into() -> tuple[int | None, str]:
    """The slot, None in a camera that has one, and the camera. Errors: BadInput."""
    given = forms.text("into", needed=True) or ""
    slot, _, camera = given.partition("/")
    if not camera or not (slot == "" or (slot.isascii() and slot.isdigit() and len(slot) < 3)):
        raise forms.fault("into", given, "a camera's letters, and its slot before them")
    return int(slot) if slot else None, camera


def _recorded() -> LoadedAs:
    """What a card records beside another one in the camera. Errors: BadInput."""
    given = request.form.get("as", "main")
    for known in get_args(LoadedAs):
        if given == known:
            return known  # type: ignore[no-any-return]
    raise forms.fault("as", given, f"one of: {', '.join(get_args(LoadedAs))}")


@pages.post("/c/<code>/still-in")
@allowed("load")
def is_still_in(code: str) -> Response:
    """The card that is probably out is in its camera, as was said before."""
    tap, label = forms.tap(), _label(code)
    camera = forms.text("camera", needed=True) or ""
    if not tap.known:
        acts_camera.load(session.service(), tap.who, label, camera, at=tap.at, tap=tap.id)
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


@pages.post("/c/<code>/found")
@allowed("found")
def is_found(code: str) -> Response:
    """The card is here again."""
    tap, label = forms.tap(), _label(code)
    if not tap.known:
        place = forms.text("place")
        acts_card.found(session.service(), tap.who, label, place=place, at=tap.at, tap=tap.id)
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
    service = session.service()
    added = request.args.get("add", "").strip()
    given = [*request.args.getlist("card"), *([added] if added else [])]
    labels, wrong = beside_camera.several(service, given[:MOST])
    wrong += [f"{one}: no more than {MOST} go with one tap." for one in given[MOST:]]
    cards = [card_page(service, label) for label in labels]
    return page(
        "loader_several.html",
        cards=cards,
        without={one: _list_of(label for label in labels if label != one) for one in labels},
        inside=[card for card in cards if card.status == "loaded"],
        out=[card for card in cards if card.status != "loaded"],
        owing=[card for card in cards if card.status != "loaded" and _owing(card)],
        todays=acts_drive.todays_drives(service),
        wrong=wrong,
        last=_last(),
        status=404 if wrong else 200,
    )


def _list_of(labels: Iterable[str]) -> str:
    """The address of a list of cards."""
    asked = urlencode([("card", label) for label in labels])
    return url_for("pages.several") + (f"?{asked}" if asked else "")


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
    tap, cards = forms.tap(), _cards("owing" if "owing" in request.form else "card")
    if not tap.known:
        acts_copies.offloaded(session.service(), tap.who, cards, at=tap.at, tap=tap.id)
    return forms.done(url_for("pages.loader"), tap.id)


def _cards(field: str = "card") -> list[str]:
    """The labels that a form is about. Errors: BadInput."""
    cards = [card for card in request.form.getlist(field) if card.strip()]
    if not 1 <= len(cards) <= MOST:
        raise forms.fault(field, f"{len(cards)} cards", f"1 to {MOST}")
    return cards
