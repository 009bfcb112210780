"""The names of rolls that were guessed: looked at together, and confirmed or set right at once."""

from __future__ import annotations

from typing import Any

from flask import request, url_for

from tracker.services import rolls_meant
from tracker.services.rolls_meant import NoNameOfItsOwn
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.wire.faults import BadInput

FIELD = "name "


@pages.get("/names")
@allowed("look")
def names() -> Any:
    """Every roll on a card whose name nobody confirmed."""
    return _names(None)


def _names(wrong: str | None) -> Any:
    return page(
        "names.html",
        status=200 if wrong is None else 400,
        wrong=wrong,
        rolls=rolls_meant.guessed_names(session.service()),
        field=FIELD,
    )


@pages.post("/names")
@allowed("name_rolls")
def name_rolls() -> Any:
    """The names are those that the cameras show."""
    tap = forms.tap()
    if not tap.known:
        ticked = set(request.form.getlist("right"))
        given = {
            name.removeprefix(FIELD): value
            for name, value in request.form.items()
            if name.startswith(FIELD) and name.removeprefix(FIELD) in ticked
        }
        if not any(value.strip() for value in given.values()):
            return _names("Tick the rolls whose names you looked at on the camera.")
        try:
            rolls_meant.name_rolls(session.service(), tap.who, given, tap=tap.id)
        except NoNameOfItsOwn as error:
            return _names(f"{error} Rename one of them on the page of its card first.")
        except BadInput as error:
            told = "; ".join(f"found {one.found}, expected {one.expected}" for one in error.faults)
            return _names(f"A name cannot be taken: {told}.")
    return forms.done(url_for("pages.names"), tap)
