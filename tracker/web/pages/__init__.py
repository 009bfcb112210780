"""The pages for people: rendered here, usable without script.

Each module adds its addresses to `pages`, and each address says whom it is for (see `guard`).
"""

from __future__ import annotations

import re

from flask import Blueprint, jsonify, redirect, request, url_for
from werkzeug.wrappers import Response

from tracker.services import as_drawn
from tracker.web import forms, look, session
from tracker.web.guard import allowed

pages = Blueprint("pages", __name__)

MOST_ASKED = 60
"""Cards of one page that are asked about."""


@pages.get("/")
@allowed("look")
def home() -> Response:
    """What everybody sees first."""
    return redirect(url_for("pages.now"), code=303)


@pages.get("/changes")
@allowed("look")
def changes() -> Response:
    """When something was logged last, and how cards stand: a page asks, and knows what is old."""
    cards = request.args.getlist("card")[:MOST_ASKED]
    marks = as_drawn.marks_of(session.service(), cards) if cards else {}
    return jsonify({"logged": look.iso(look.production().last_logged), "marks": marks})


@pages.post("/enter")
@allowed("look")
def enter() -> Response:
    """Enter was pressed in a field, as a scanner does: no button was, so nothing is logged."""
    where = re.sub(r"([?&])(said|again)=[^&#]*", r"\1", forms.back(url_for("pages.now")))
    path, _, anchor = where.partition("#")
    mark = "&" if "?" in path else "?"
    return redirect(f"{path}{mark}entered=yes{'#' + anchor if anchor else ''}", code=303)
