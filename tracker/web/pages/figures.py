"""Figures of the production office: what is written and worn, and where the cards were."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import timedelta
from fractions import Fraction
from typing import Any
from urllib.parse import urlencode

from flask import Response, jsonify, request
from werkzeug.exceptions import NotFound

from dashboards import rotation as rotation_figure
from dashboards import wear as wear_figure
from tracker.planning.past import WORST, runs
from tracker.planning.wear import lorenz
from tracker.services import rotation_page, wear_page
from tracker.services.rotation_page import Rotation
from tracker.web import session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.wire.purchase_list import read_day
from tracker.wire.table import safe_text

SPANS = {"1": "One day", "7": "7 days", "30": "30 days", "90": "90 days", "all": "All days"}
"""How much of the rotation is looked at, in days."""

USUAL = "30"


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
        points=_some(lorenz([one.wear.bytes for one in cards])),
    )


def _some(points: Sequence[tuple[Fraction, Fraction]]) -> list[tuple[Fraction, Fraction]]:
    """About ten points of a curve, the last of them always, without where it begins."""
    step = max(1, len(points) // 10)
    return [*points[step:-1:step], *points[-1:]]


@pages.get("/office/wear/<name>.json")
@allowed("office")
def wear_data(name: str) -> Response:
    """A figure of wear, as data."""
    cards = wear_page.cards_worn(session.service())
    if name == "writes":
        return jsonify(wear_figure.writes([one.wear for one in cards]))
    if name == "evenness":
        return jsonify(wear_figure.evenness(lorenz([one.wear.bytes for one in cards])))
    raise NotFound


@pages.get("/office/wear/<name>.csv")
@allowed("office")
def wear_table(name: str) -> Response:
    """The numbers of a figure of wear."""
    cards = wear_page.cards_worn(session.service())
    if name == "writes":
        rows = (
            (
                one.label, one.status, one.maker_model, one.wear.card.capacity_bytes,
                one.wear.bytes, "yes" if one.wear.at_least else "no", one.wear.source,
                one.wear.fills, one.wear.card.endurance_tb, one.wear.wear, one.wear.wear_source,
                one.damage, one.mishaps,
            )
            for one in cards
        )  # fmt: skip
        header = ("card", "status", "maker and model", "capacity (bytes)", "written (bytes)",
                  "more was written", "known from", "full-card writes", "rating (TBW, TB)",
                  "wear (1 is the rating)", "wear by", "damages", "mishaps")  # fmt: skip
        return csv_of("writes", header, rows)
    if name == "evenness":
        points = lorenz([one.wear.bytes for one in cards])
        shares = ((float(x), float(y)) for x, y in points)
        return csv_of("evenness", ("share of cards, least used first", "share of writes"), shares)
    raise NotFound


def csv_of(name: str, header: Sequence[str], rows: Iterable[Sequence[Any]]) -> Response:
    """A table to take along; what is unknown is an empty cell."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(header)
    for row in rows:
        writer.writerow([safe_text(cell) if isinstance(cell, str) else cell for cell in row])
    answer = Response(out.getvalue(), mimetype="text/csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


# Rotation


@pages.get("/office/rotation")
@allowed("office")
def rotation() -> Any:
    """Where the cards were over some days."""
    seen, span = _asked()
    asked = urlencode({"days": span, "until": f"{seen.last}"})
    length = (seen.last - seen.first).days + 1
    return page(
        "rotation.html",
        seen=seen,
        span=span,
        spans=SPANS,
        counts=seen.counts(),
        worst=WORST,
        says=rotation_page.reading(seen),
        asked_for=asked,
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
    seen, _ = _asked()
    cards = sorted(seen.days)
    if seen.exact:
        return jsonify(rotation_figure.by_the_minute(seen.found, seen.zone, cards))
    return jsonify(rotation_figure.day_by_day(runs(seen.days), cards))


@pages.get("/office/rotation.csv")
@allowed("office")
def rotation_table() -> Response:
    """Every stretch, as it was."""
    seen, _ = _asked()
    rows = (
        (
            one.card, f"{one.start.astimezone(seen.zone):%Y-%m-%d %H:%M:%S}",
            f"{one.end.astimezone(seen.zone):%Y-%m-%d %H:%M:%S}", one.what, one.says,
        )
        for one in seen.found
    )  # fmt: skip
    return csv_of("rotation", ("card", "from", "to", "what", "rolls"), rows)
