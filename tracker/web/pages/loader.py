"""The pages of the loader, who stands beside the camera with a phone: large, short, one thumb."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, get_args
from urllib.parse import quote, urlencode

from flask import redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.domain.codes import BadCode
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import LoadedAs
from tracker.domain.plans import no_such_slot
from tracker.services import (
    acts_camera,
    acts_card,
    acts_copies,
    acts_drive,
    as_drawn,
    beside_camera,
    codes,
    taps,
)
from tracker.services.as_drawn import AskAgain, Drawn, TooEarly
from tracker.services.card_lines import CardPage, RollLine
from tracker.services.card_page import card_page
from tracker.services.codes import Coded, NobodysCode
from tracker.web import forms, session
from tracker.web.forms import Tap
from tracker.web.guard import allowed
from tracker.web.look import clock, page
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
    return _of_card(coded.label, coded.code)


def _of_card(label: str, code: str | None, wrong: str | None = None) -> Any:
    """The page of a card. wrong: why a tap on an older one logged nothing."""
    marks = as_drawn.marks_of(session.service(), [label])
    card = card_page(session.service(), label)
    return page(
        "loader_card.html",
        status=409 if wrong else 200,
        card=card,
        code=code,
        marks=marks,
        wrong=wrong,
        into=beside_camera.into(session.service(), card) if _may_go_in(card) else [],
        asked_for=beside_camera.copies_asked(session.service()),
        todays=card.todays,
        gone=card.todays_gone,
        owing=_owing(card),
        last=_last(),
    )


def _may_go_in(card: CardPage) -> bool:
    return card.status != "retired" and (card.status != "loaded" or card.probably_out)


def _bare(card: CardPage) -> list[RollLine]:
    """The rolls on it that are not backed up."""
    return [one for one in card.rolls if one.owes and not one.open and not one.covered]


def _owing(card: CardPage) -> list[RollLine]:
    """The rolls on it that are not backed up, and not on each of today's drives yet."""
    return [one for one in _bare(card) if not card.todays or not _on_each(one, card.todays)]


def _on_each(roll: RollLine, drives: Iterable[str]) -> bool:
    return set(drives) <= {copy.drive for copy in roll.copies if copy.level is not None}


def _last() -> taps.Told | None:
    """What one's last tap logged, where the page does not offer to take that back already."""
    service, who = session.service(), session.who()
    told = taps.told(service, who, request.args["said"]) if "said" in request.args else None
    return None if told is not None and told.mine else taps.last(service, who)


def _drawn(tap: Tap) -> Drawn:
    """What the page showed on which somebody tapped."""
    said = (one.partition(" ") for one in request.form.getlist("drawn"))
    return Drawn({label: mark for mark, _, label in said}, tap.at)


def _as_said(error: AskAgain | TooEarly) -> str:
    """Why nothing was logged, with the time by the production's clock."""
    if isinstance(error, AskAgain):
        return str(error)
    return (
        f"{error.label} {error.what} at {clock(error.after)}, and the time that you said is "
        "before that. Nothing was logged: say another time. If it was so, say it on the page "
        "of the card."
    )


def _label(code: str) -> str:
    """The label of the card with a code. Errors: BadCode, NobodysCode, NotFound for a drive."""
    coded = codes.whose(session.service(), code)
    if coded.kind != "card":
        raise NotFound
    return coded.label


@pages.post("/c/<code>/into")
@allowed("swap")
def goes_in(code: str) -> Any:
    """The card went into a camera; the one that was in it came out."""
    slot, camera = _into()
    described = {one.letters: one for one in beside_camera.cameras(session.service())}
    if camera in described and (wrong := no_such_slot(described[camera], slot)):
        raise forms.fault("into", request.form["into"], f"a slot that is there: {wrong}")
    formatted = request.form.get("formatted") == "on"
    loaded_as: LoadedAs = "main" if slot is None else _recorded()

    def swap(tap: Tap, label: str) -> None:
        acts_camera.swap(
            session.service(), tap.who, label, camera, slot=slot, formatted=formatted,
            loaded_as=loaded_as, unmounted=_unmounted(), at=tap.at, tap=tap.id, drawn=_drawn(tap),
            out_said=request.form.get(f"out {request.form['into']}"),
        )  # fmt: skip

    return _tapped(code, swap)


def _tapped(code: str, say: Callable[[Tap, str], object]) -> Any:
    """Log what was tapped on the page of a card; or draw it anew, and ask, where it is old.

    say: logs it, of the card with a label.
    """
    tap, label = forms.tap(), _label(code)
    try:
        if not tap.known:
            say(tap, label)
    except (AskAgain, TooEarly) as error:
        return _of_card(label, code, _as_said(error))
    return forms.done(url_for("pages.by_code", code=code), tap)


def _unmounted() -> bool | None:
    """Whether what came out was unmounted in the camera before; None where nobody said."""
    return {"yes": True, "no": False}.get(request.form.get("unmounted", ""))


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
def is_still_in(code: str) -> Any:
    """The card that is probably out is in its camera, as was said before."""
    camera = forms.text("camera", needed=True) or ""
    return _tapped(
        code,
        lambda tap, label: acts_camera.load(
            session.service(), tap.who, label, camera, at=tap.at, tap=tap.id,
            check=_drawn(tap).of(label),
        ),
    )  # fmt: skip


@pages.post("/c/<code>/out")
@allowed("pull")
def comes_out(code: str) -> Any:
    """The card came out of its camera."""
    return _tapped(
        code,
        lambda tap, label: acts_camera.pull(
            session.service(), tap.who, label, unmounted=_unmounted(), at=tap.at, tap=tap.id,
            check=_drawn(tap).of(label),
        ),
    )  # fmt: skip


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
    return forms.done(url_for("pages.by_code", code=code), tap)


@pages.post("/c/<code>/found")
@allowed("found")
def is_found(code: str) -> Response:
    """The card is here again."""
    tap, label = forms.tap(), _label(code)
    if not tap.known:
        place = forms.text("place")
        acts_card.found(session.service(), tap.who, label, place=place, at=tap.at, tap=tap.id)
    return forms.done(url_for("pages.by_code", code=code), tap)


@pages.get("/camera/<path:letters>")
@allowed("look")
def camera(letters: str) -> Any:
    """What is in a camera; for a card in a camera cannot be scanned."""
    service = session.service()
    found = beside_camera.camera(service, letters)
    if found is None:
        known = [one.letters for one in beside_camera.cameras(service)]
        raise UnknownLabel("camera", letters, known)
    return page("loader_camera.html", camera=found, last=_last())


@pages.get("/several")
@allowed("look")
def several() -> Any:
    """Cards that were scanned one after the other, for one tap."""
    added = request.args.get("add", "").strip()
    given = [*request.args.getlist("card"), *([added] if added else [])]
    labels, wrong = beside_camera.several(session.service(), given[:MOST])
    wrong += [f"{one}: no more than {MOST} go with one tap." for one in given[MOST:]]
    return _of_several(labels, wrong)


def _of_several(labels: Sequence[str], wrong: Sequence[str], again: str | None = None) -> Any:
    """The page of several cards. again: why a tap on an older one logged nothing."""
    service = session.service()
    marks = as_drawn.marks_of(service, labels)
    cards = [card_page(service, label) for label in labels]
    return page(
        "loader_several.html",
        cards=cards,
        without={one: _list_of(label for label in labels if label != one) for one in labels},
        inside=[card for card in cards if card.status == "loaded"],
        out=[card for card in cards if card.status != "loaded"],
        owing=[card for card in cards if card.status != "loaded" and _owing(card)],
        below=[card for card in cards if card.status != "loaded" and _bare(card)],
        lost=[card for card in cards if card.lost],
        todays=acts_drive.todays_drives(service),
        gone=acts_drive.todays_drives_gone(service),
        marks=marks,
        wrong=wrong,
        again=again,
        last=_last(),
        status=409 if again else 404 if wrong else 200,
    )


def _list_of(labels: Iterable[str]) -> str:
    """The address of a list of cards."""
    asked = urlencode([("card", label) for label in labels])
    return url_for("pages.several") + (f"?{asked}" if asked else "")


@pages.post("/several/cart")
@allowed("hand_over")
def to_the_cart() -> Any:
    """Cards went to the cart."""
    return _all_tapped(
        _cards(),
        lambda tap, cards: acts_card.hand_over(
            session.service(), tap.who, cards, "the cart", "cart", at=tap.at, tap=tap.id,
            check=_drawn(tap).of(*cards),
        ),
    )  # fmt: skip


@pages.post("/several/offloaded")
@allowed("offloaded")
def are_offloaded() -> Any:
    """Cards are said to be copied to today's drives."""
    return _all_tapped(
        _cards("owing" if "owing" in request.form else "card"),
        lambda tap, cards: acts_copies.offloaded(
            session.service(), tap.who, cards, at=tap.at, tap=tap.id,
            check=_drawn(tap).of(*cards), to_said=request.form.getlist("to") or None,
        ),
    )  # fmt: skip


def _all_tapped(cards: list[str], say: Callable[[Tap, list[str]], object]) -> Any:
    """As `_tapped`, of several cards; or of one, on the page of which it was tapped."""
    tap = forms.tap()
    try:
        if not tap.known:
            say(tap, cards)
    except (AskAgain, TooEarly) as error:
        code = request.form.get("code")
        if code is not None:
            return _of_card(_label(code), code, _as_said(error))
        return _of_several(_cards(), (), _as_said(error))
    return forms.done(url_for("pages.loader"), tap)


def _cards(field: str = "card") -> list[str]:
    """The labels that a form is about. Errors: BadInput."""
    cards = [card for card in request.form.getlist(field) if card.strip()]
    if not 1 <= len(cards) <= MOST:
        raise forms.fault(field, f"{len(cards)} cards", f"1 to {MOST}")
    return cards
