"""The pages for people: rendered here, usable without script.

Each module adds its addresses to `pages`, and each address says whom it is for (see `guard`).
"""

from __future__ import annotations

import re

from flask import Blueprint, jsonify, redirect, url_for
from werkzeug.wrappers import Response

from tracker.services import acts_back
from tracker.web import forms, look, session
from tracker.web.guard import allowed

pages = Blueprint("pages", __name__)


@pages.get("/")
@allowed("look")
def home() -> Response:
    """What everybody sees first."""
    return redirect(url_for("pages.now"), code=303)


@pages.get("/changes")
@allowed("look")
def changes() -> Response:
    """When something was logged last: a page asks, and knows whether it is old."""
    return jsonify({"logged": look.iso(look.production().last_logged)})


@pages.post("/enter")
@allowed("look")
def enter() -> Response:
    """Enter was pressed in a field, as a scanner does: no button was, so nothing is logged."""
    where = re.sub(r"([?&])(said|again)=[^&#]*", r"\1", forms.back(url_for("pages.now")))
    path, _, anchor = where.partition("#")
    mark = "&" if "?" in path else "?"
    return redirect(f"{path}{mark}entered=yes{'#' + anchor if anchor else ''}", code=303)


@pages.post("/take-back")
@allowed("take_back_last")
def take_back() -> Response:
    """One's own last tap was a mistake."""
    tap = forms.tap()
    if not tap.known:
        shown = forms.text("shown", needed=True)
        acts_back.take_back_last(session.service(), tap.who, shown=shown, tap=tap.id)
    return forms.done(url_for("pages.now"), tap)
