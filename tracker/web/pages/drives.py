"""The drives: what is where, today's drives, and what happens to a drive."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, get_args
from urllib.parse import quote

from flask import redirect, request, url_for
from werkzeug.wrappers import Response

from tracker.domain.errors import CardwrightError
from tracker.domain.facts import DriveKind, DrivePlace
from tracker.domain.sizes import NotASize
from tracker.services import acts_drive, drives_page
from tracker.services.acts_drive import NotForToday
from tracker.services.drives_page import DriveKnown, Loss, RollOn
from tracker.services.logging import Logged
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.wire.faults import BadInput

SHOWN_AT_ONCE = 50
"""Rolls on one page, so that a phone gets it quickly."""

TOLD_IN_FULL = 10
"""Rolls that go, each with its copies: the question must stay within a thumb's reach."""

KINDS: tuple[DriveKind, ...] = get_args(DriveKind)
PLACES: tuple[DrivePlace, ...] = get_args(DrivePlace)


@dataclass(frozen=True, slots=True)
class Going:
    """How a drive, or what is on it, goes.

    word: in the address. says: what it means; before: what to look to first. act: named as its
    action in the table of roles.
    """

    word: str
    heading: str
    says: str
    before: str
    button: str
    act: Callable[..., Logged]


EMPTY = Going(
    "empty",
    "is emptied",
    "This logs that everything on the drive is gone. It erases nothing by itself.",
    "Look at the label on the drive before anybody erases it, and eject it before unplugging.",
    "Log it as emptied",
    acts_drive.empty_drive,
)
FAIL = Going(
    "fail",
    "does not work",
    "From now on no copy on this drive counts.",
    "Leave it unplugged, and write nothing to it: what is on it may still be got back.",
    "Log it as failed",
    acts_drive.fail_drive,
)
LOSE = Going(
    "lose",
    "is lost",
    "From now on no copy on this drive counts, until it is found.",
    "Ask whoever had it last.",
    "Log it as lost",
    acts_drive.lose_drive,
)
GIVE_BACK = Going(
    "give-back",
    "is given back",
    "The drive leaves for good, and its copies go with it.",
    "Eject it before unplugging. Whoever gets it may erase it.",
    "Log it as given back",
    acts_drive.give_back_drive,
)


# What is where


@pages.get("/drives")
@allowed("look")
def drives() -> Any:
    """Every drive, those in danger first."""
    return _drives(None)


@pages.post("/drives")
@allowed("register_drive")
def register_drive() -> Any:
    """A new drive takes copies."""
    tap = forms.tap()
    label = forms.text("drive")
    try:
        if not tap.known:
            _register(tap)
    except (DriveKnown, BadInput) as error:
        return _drives(error)
    return forms.done(url_for("pages.drive", label=label), tap)


@pages.get("/drives/<path:label>")
@allowed("look")
def drive(label: str) -> Any:
    """One drive, and the rolls on it."""
    return _drive(label)


@pages.post("/todays-drives")
@allowed("set_todays_drives")
def set_todays_drives() -> Any:
    """Where today's copies go."""
    chosen = request.form.getlist("drive")
    try:
        acts_drive.set_todays_drives(session.service(), session.who(), chosen)
    except NotForToday as error:
        return _drives(error, ticked=chosen)
    return redirect(url_for("pages.drives", today="set") + "#today", code=303)


def _drives(wrong: CardwrightError | None, ticked: Sequence[str] | None = None) -> Any:
    """The page of all drives. ticked: what somebody would have set for today, and could not."""
    service = session.service()
    found = drives_page.every_drive(service)
    today = [drive for drive in found if drive.today and not drive.state]
    rule, copies = drives_page.rule_said(service)
    return page(
        "drives.html",
        status=_status(wrong),
        drives=found,
        today=today,
        gone=acts_drive.todays_drives_gone(service),
        ticked=[drive.label for drive in today] if ticked is None else ticked,
        setting=ticked is not None,
        rule=rule,
        copies=copies,
        kinds=KINDS,
        places=PLACES,
        faults=_faults(wrong),
    )


def _drive(label: str) -> Any:
    service = session.service()
    shown = drives_page.one_drive(service, label)
    rolls = drives_page.rolls_on(service, label)
    only_below = request.args.get("rolls") == "below"
    listed = [roll for roll in rolls if not (only_below and roll.covered)]
    first = min(forms.first(), max(0, len(listed) - 1))
    return page(
        "drive.html",
        drive=shown,
        rolls=listed[first : first + SHOWN_AT_ONCE],
        first=first,
        count=len(listed),
        only_below=only_below,
        at_once=SHOWN_AT_ONCE,
        rule=drives_page.rule_said(service)[0],
        happened=drives_page.happened(service, label),
        places=PLACES,
    )


def _register(tap: forms.Tap) -> None:
    label = forms.text("drive", needed=True)
    assert label is not None
    service = session.service()
    if label in {drive.label for drive in drives_page.every_drive(service)}:
        raise DriveKnown(label)
    kind, place = _one_of("kind", KINDS), _one_of("place", PLACES)
    acts_drive.register_drive(
        service, tap.who, label, kind, _capacity(), place, at=tap.at, tap=tap.id,
        maker_model=forms.text("maker_model"), serial=forms.text("serial"),
    )  # fmt: skip


def _capacity() -> int:
    given = forms.text("capacity", needed=True) or ""
    try:
        return drives_page.capacity(given)
    except NotASize as error:
        raise forms.fault("capacity", given, error.expected) from None


def _one_of(field: str, known: tuple[Any, ...]) -> Any:
    given = request.form.get(field, "")
    if given not in known:
        raise forms.fault(field, given or "nothing", f"one of: {', '.join(known)}")
    return given


def _status(wrong: CardwrightError | None) -> int:
    if wrong is None:
        return 200
    return 409 if isinstance(wrong, DriveKnown | NotForToday) else 400


def _faults(wrong: CardwrightError | None) -> list[str]:
    if isinstance(wrong, BadInput):
        return [fault.message for fault in wrong.faults]
    return [] if wrong is None else [str(wrong)]


# What happens to it


@pages.post("/drive/move/<path:label>")
@allowed("move_drive")
def move_drive(label: str) -> Response:
    """It is somewhere else."""
    tap = forms.tap()
    if not tap.known:
        place = _one_of("place", PLACES)
        acts_drive.move_drive(
            session.service(), tap.who, label, place, holder=forms.text("holder"),
            seal=forms.text("seal"), text=forms.text("text"), at=tap.at, tap=tap.id,
        )  # fmt: skip
    return _done(label, tap)


@pages.post("/drive/find/<path:label>")
@allowed("find_drive")
def find_drive(label: str) -> Response:
    """It is back."""
    tap = forms.tap()
    if not tap.known:
        text = forms.text("text")
        service = session.service()
        acts_drive.find_drive(service, tap.who, label, text=text, at=tap.at, tap=tap.id)
    return _done(label, tap)


def _addresses_for(going: Going) -> None:
    """What it would mean, and that it happened: an address for each."""

    def ask(label: str) -> Any:
        return _ask(going, label)

    def go(label: str) -> Response:
        return _go(going, label)

    named, action = going.word.replace("-", "_"), going.act.__name__
    where = f"/drive/{going.word}/<path:label>"
    pages.get(where, endpoint=f"ask_{named}")(allowed(action)(ask))
    pages.post(where, endpoint=f"{named}_drive")(allowed(action)(go))


for _going in (EMPTY, FAIL, LOSE, GIVE_BACK):
    _addresses_for(_going)


def _ask(going: Going, label: str) -> Any:
    service = session.service()
    shown = drives_page.one_drive(service, label)
    loss = drives_page.loss_of(service, label)
    falls, below = _worst_first(loss.falls, loss), _worst_first(loss.below, loss)
    room = max(0, TOLD_IN_FULL - len(falls))
    return page(
        "drive_goes.html",
        drive=shown,
        going=going,
        loss=loss,
        last=loss.last,
        at_once=TOLD_IN_FULL,
        listed=[*falls[:TOLD_IN_FULL], *below[:room]],
        more_fall=falls[TOLD_IN_FULL:],
        more_below=below[room:],
        rule=drives_page.rule_said(service)[0],
    )


def _worst_first(rolls: Sequence[RollOn], loss: Loss) -> list[RollOn]:
    """Rolls whose last copy goes before the others."""
    last = set(loss.last)
    return [r for r in rolls if r in last] + [r for r in rolls if r not in last]


def _go(going: Going, label: str) -> Response:
    tap = forms.tap()
    if not tap.known:
        text = forms.text("text")
        going.act(session.service(), tap.who, label, text=text, at=tap.at, tap=tap.id)
    return _done(label, tap)


def _done(label: str, tap: forms.Tap) -> Response:
    return forms.done(f"/drives/{quote(label)}", tap)
