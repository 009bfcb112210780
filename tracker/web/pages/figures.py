"""Figures of the production office: each has a page with its table, its data and its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from fractions import Fraction
from typing import Any
from urllib.parse import urlencode

from flask import Response, jsonify, request
from werkzeug.exceptions import NotFound

from tracker.planning.past import WORST
from tracker.planning.wear import lorenz
from tracker.reports import figures
from tracker.reports.figures import Drawn
from tracker.services import data_page, rotation_page, wear_page
from tracker.services.rotation_page import Rotation
from tracker.web import session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.wire.purchase_list import read_day

SPANS = {"1": "One day", "7": "7 days", "30": "30 days", "90": "90 days", "all": "All days"}
"""How much of the rotation is looked at, in days."""

USUAL = "30"
LATEST = 14
"""Days of which the page on data has a table; the file has all of them."""


def _named(drawn: Sequence[Drawn], name: str) -> Drawn:
    """Errors: NotFound."""
    found = [one for one in drawn if one.name == name]
    if not found:
        raise NotFound
    return found[0]


def _table(drawn: Drawn) -> Response:
    answer = Response(drawn.csv(), mimetype="text/csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{drawn.name}.csv"'
    return answer


# Writes and wear


@pages.get("/office/wear")
@allowed("office")
def wear() -> Any:
    """What was written to each card, how worn it is, and how evenly they are used."""
    cards = wear_page.cards_worn(session.service())
    return page(
        "wear.html",
        cards=cards,
        writes=wear_page.reading_of_writes(cards),
        worn=wear_page.reading_of_wear(cards),
        points=_some(lorenz(wear_page.logged_sizes(cards))),
    )


def _some(points: Sequence[tuple[Fraction, Fraction]]) -> list[tuple[Fraction, Fraction]]:
    """About ten points of a curve, the last of them always, without where it begins."""
    step = max(1, len(points) // 10)
    return [*points[step:-1:step], *points[-1:]]


@pages.get("/office/wear/<name>.json")
@allowed("office")
def wear_data(name: str) -> Response:
    """A figure of wear, as data."""
    return jsonify(_named(figures.wear_figures(session.service()), name).figure)


@pages.get("/office/wear/<name>.csv")
@allowed("office")
def wear_table(name: str) -> Response:
    """The numbers of a figure of wear."""
    return _table(_named(figures.wear_figures(session.service()), name))


# Rotation


@pages.get("/office/rotation")
@allowed("office")
def rotation() -> Any:
    """Where the cards were over some days."""
    seen, span = _asked()
    length = (seen.last - seen.first).days + 1
    return page(
        "rotation.html",
        seen=seen,
        span=span,
        spans=SPANS,
        counts=seen.counts(),
        worst=WORST,
        says=rotation_page.reading(seen),
        asked_for=urlencode({"days": span, "until": f"{seen.last}"}),
        earlier=seen.first - timedelta(days=1),
        later=seen.last + timedelta(days=length),
    )


def _asked() -> tuple[Rotation, str]:
    """The days that are looked at; what cannot be read is as if nobody had asked."""
    span = request.args.get("days", USUAL)
    span = span if span in SPANS else USUAL
    last = read_day(request.args.get("until", ""))
    days = None if span == "all" else int(span)
    return rotation_page.rotation(session.service(), last, days), span


@pages.get("/office/rotation.json")
@allowed("office")
def rotation_data() -> Response:
    """The rotation, as data."""
    return jsonify(figures.rotation_drawn(_asked()[0]).figure)


@pages.get("/office/rotation.csv")
@allowed("office")
def rotation_table() -> Response:
    """Every stretch, as it was."""
    return _table(figures.rotation_drawn(_asked()[0]))


# Data and space


@pages.get("/office/data")
@allowed("office")
def data() -> Any:
    """How much comes out of the cameras, what it fills, and what was bought for it."""
    seen = data_page.data_seen(session.service())
    latest = sorted({one.day for one in seen.days})[-LATEST:]
    return page(
        "data.html",
        seen=seen,
        latest=[one for one in seen.days if one.day in latest],
        days=data_page.reading_of_days(seen),
        space=data_page.reading_of_space(seen),
        growth=data_page.reading_of_growth(seen),
        called=figures.called,
    )


@pages.get("/office/data/<name>.json")
@allowed("office")
def data_data(name: str) -> Response:
    """A figure of data, as data."""
    return jsonify(_named(figures.data_figures(session.service()), name).figure)


@pages.get("/office/data/<name>.csv")
@allowed("office")
def data_table(name: str) -> Response:
    """The numbers of a figure of data."""
    return _table(_named(figures.data_figures(session.service()), name))
