"""The morning: which card goes to which camera, and a unit's call and wrap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from flask import redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.domain.errors import UnknownLabel
from tracker.domain.plans import Line, Place, Since
from tracker.domain.sentences import sentence
from tracker.services import acts_day, planning
from tracker.services.as_drawn import AskAgain
from tracker.services.morning import MOST_SPARES, Morning, UnitDay, morning, places
from tracker.services.planning import Warned
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import ago, clock, page
from tracker.web.pages import pages
from tracker.wire.faults import BadInput, Fault

MOST_CHOICES = 60
"""Cards in each list of the form, so that a page stays light enough for a phone."""
EVERY_CARD = 1_000_000


@pages.get("/morning", endpoint="morning")
@allowed("look")
def morning_page() -> Any:
    """A unit's morning. Without a unit, that of the first one."""
    seen = _seen(request.args.get("unit"))
    if seen is None:
        return page("morning.html", seen=None)
    return _page(seen, planning.begin(seen), opened=seen.committed is None)


@pages.get("/morning/sheet")
@allowed("look")
def morning_sheet() -> Any:
    """The committed plan, to be printed: one page for each unit, or that of one unit."""
    asked = request.args.get("unit")
    first = _seen(asked)
    units = () if first is None else first.units
    wanted = [first] if asked else [_seen(one.unit) for one in units]
    sheets = [one for one in wanted if one is not None]
    return page("morning_sheet.html", sheets=sheets, expected=expected)


@pages.get("/morning/plan")
@allowed("look")
def no_form() -> Response:
    """Where a form was answered there is nothing to look at again."""
    return redirect(url_for("pages.morning"), code=303)


@pages.post("/morning/plan")
@allowed("commit_plan")
def commit_plan() -> Any:
    """Look the choices over, ask where a card should not be loaded, and commit."""
    tap = forms.tap()
    seen = _seen(forms.text("unit", needed=True))
    if seen is None:
        raise NotFound
    address = url_for("pages.morning", unit=seen.unit.unit)
    if tap.known:
        return forms.done(address, tap)
    spares = _spares(seen)
    lines = planning.chosen(seen, _typed(seen, spares), spares)
    to_do = request.form.get("do", "look")
    if request.form.get("drawn") != seen.mark:
        return _old(seen, lines)
    wrong = planning.faults(seen, lines)
    if to_do == "look" or wrong or _more_lines(seen, spares):
        told = wrong if to_do != "look" else [f for f in wrong if f.field != "plan"]
        return _page(seen, lines, opened=True, wrong=told, looked=True,
                     status=400 if told else 200)  # fmt: skip
    against = planning.warnings(seen, lines)
    if against and request.form.get("asked") != _asked(against):
        return page("morning_ask.html", seen=seen, lines=lines, against=against,
                    asked_of=_asked(against), key=key, spares=spares)  # fmt: skip
    try:
        planning.commit(session.service(), tap.who, seen, lines, tap=tap.id)
    except AskAgain:
        return _old(_seen(seen.unit.unit) or seen, lines)
    return forms.done(address, tap)


def _old(seen: Morning, lines: Sequence[Line]) -> Any:
    """The day or its plan is another one since the form was drawn: it is asked again."""
    return _page(seen, lines, opened=True, looked=True, old=True, status=409)


@pages.post("/morning/call")
@allowed("call_unit")
def call_unit() -> Any:
    """The unit's shooting day began."""
    return _call_or_wrap(acts_day.call_unit)


@pages.post("/morning/wrap")
@allowed("wrap_unit")
def wrap_unit() -> Any:
    """The unit's shooting day ended."""
    return _call_or_wrap(acts_day.wrap_unit)


def _call_or_wrap(act: Any) -> Any:
    seen = _seen(forms.text("unit", needed=True))
    if seen is None:
        raise NotFound
    try:
        tap = forms.tap()
    except BadInput as error:
        begun = planning.begin(seen)
        return _page(seen, begun, opened=False, amiss=error.faults, status=400)
    unit = seen.unit.unit
    if not tap.known:
        last = seen.unit.last
        if forms.text("last") != (None if last is None else last.id):
            return _page(seen, planning.begin(seen), opened=False, called=True, status=409)
        if last is not None and tap.at is not None and tap.at < last.occurred_at:
            said = f"{sentence(last).rstrip('.')} {clock(last.occurred_at)}"
            early = Fault("", None, "the time", clock(tap.at), f"a time after that: {said}")
            begun = planning.begin(seen)
            return _page(seen, begun, opened=False, amiss=[early], status=409)
        number = forms.text("day_number")
        act(session.service(), tap.who, unit, day_number=number, at=tap.at, tap=tap.id)
    return forms.done(url_for("pages.morning", unit=unit), tap)


def _seen(unit: str | None) -> Morning | None:
    """Errors: NotFound for a unit that there is not."""
    try:
        return morning(session.service(), unit or None)
    except UnknownLabel as error:
        raise NotFound(str(error)) from None


def _page(
    seen: Morning,
    lines: Sequence[Line],
    *,
    opened: bool,
    wrong: Sequence[Fault] = (),
    looked: bool = False,
    old: bool = False,
    called: bool = False,
    amiss: Sequence[Fault] = (),
    status: int = 200,
) -> Any:
    """The page of one unit. opened: whether the choices stand open. looked: somebody chose.

    old, called: the plan, or the unit's call or wrap, is another one since the form was drawn.
    amiss: what is wrong with what was said of a call or wrap.
    """
    against = {one.line.place: one.reasons for one in planning.warnings(seen, lines)}
    return page(
        "morning.html", status=status, seen=seen, lines=lines, against=against, opened=opened,
        wrong=wrong, looked=looked, old=old, called=called, amiss=amiss, key=key,
        most_spares=MOST_SPARES, call_says=call_says,
        most_choices=EVERY_CARD if "all" in request.args else MOST_CHOICES,
    )  # fmt: skip


def key(place: Place) -> str:
    """The field of a place."""
    return f"{place.camera}/{'spare' if place.spare else 'slot'}/{place.number}"


def call_says(unit: UnitDay) -> str:
    """Since when a unit is called or wrapped."""
    if unit.last is None:
        return "Nobody logged a call or a wrap of this unit yet."
    said = sentence(unit.last).rstrip(".")
    return f"{said}, {clock(unit.last.occurred_at)}, {ago(unit.last.occurred_at)} ago."


def expected(seen: Morning, line: Line, since: Since) -> str:
    """The roll of a line: the one that it has, else for a first slot the one that comes next."""
    if since.roll is not None and not since.apart:
        return since.roll
    camera = next(c for c in seen.cameras if c.described.letters == line.place.camera)
    lines = () if seen.committed is None else seen.committed.lines
    others = [one for one, _ in lines if one.place.camera == line.place.camera]
    first = others[0] == line and not any(card.for_today for card in camera.inside)
    return f"{camera.next_roll}?" if first and not line.place.spare else ""


def _spares(seen: Morning) -> dict[str, int]:
    """How many spares each camera is to have. Errors: BadInput."""
    found = {}
    for letters in seen.letters:
        field = f"{letters}/spares"
        count = forms.number(field) or 0
        if count > MOST_SPARES:
            expected = f"a number of spare cards, {MOST_SPARES} at most"
            raise forms.fault(f"spares of camera {letters}", str(count), expected)
        found[letters] = count
    return found


def _typed(seen: Morning, spares: Mapping[str, int]) -> dict[Place, str]:
    """What was chosen; a line that the form did not have yet gets a proposal."""
    wanted = places(seen, spares)
    typed = {place: request.form[key(place)] for place in wanted if key(place) in request.form}
    fresh = [place for place in wanted if place not in typed]
    if fresh:
        used = set(typed.values())
        free = {line.place: line.card for line in planning.proposed(seen, spares)}
        for place in fresh:
            card = free.get(place)
            typed[place] = card if card is not None and card not in used else ""
    return typed


def _more_lines(seen: Morning, spares: Mapping[str, int]) -> bool:
    """Whether there are lines now that nobody has looked at."""
    return any(key(place) not in request.form for place in places(seen, spares))


def _asked(against: Sequence[Warned]) -> str:
    """What somebody was asked about: if it is something else by now, it is asked again."""
    said = [
        f"{key(one.line.place)}={one.line.card}:{'+'.join(r.code for r in one.reasons)}"
        for one in against
    ]
    return " ".join(said)
