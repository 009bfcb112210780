"""Figures of the production office: data a day, space on the drives, bought against copied."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import Response, jsonify
from werkzeug.exceptions import NotFound

from dashboards import data as data_figure
from tracker.services import data_page
from tracker.services.data_page import DataSeen, DayOfCamera
from tracker.web import session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.web.pages.figures import csv_of

LATEST = 14
"""Days of which the page has a table; the file has all of them."""


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
        called=called,
    )


def called(one: DayOfCamera) -> str:
    """A camera with its crew unit, as the figure and the tables call it."""
    return f"{one.camera or 'a camera that nobody named'}, {one.unit or 'of no known unit'}"


@pages.get("/office/data/<name>.json")
@allowed("office")
def data_data(name: str) -> Response:
    """A figure of data, as data."""
    seen = data_page.data_seen(session.service())
    if name == "days":
        return jsonify(data_figure.days([(one.day, called(one), one.bytes) for one in seen.days]))
    if name == "space":
        return jsonify(data_figure.space(_filled(seen)))
    if name == "growth":
        lines = [(one.day, one.copied, one.delivered) for one in seen.grown]
        return jsonify(data_figure.growth(lines))
    raise NotFound


def _filled(seen: DataSeen) -> list[tuple[str, str, int, int]]:
    return [
        (one.label, one.place, one.bytes or 0, one.capacity_bytes)
        for one in seen.drives
        if not one.state
    ]


@pages.get("/office/data/<name>.csv")
@allowed("office")
def data_table(name: str) -> Response:
    """The numbers of a figure of data."""
    seen = data_page.data_seen(session.service())
    header, rows = _table(name, seen)
    return csv_of(name, header, rows)


def _table(name: str, seen: DataSeen) -> tuple[Sequence[str], list[Sequence[Any]]]:
    if name == "days":
        days = [(one.day, one.unit, one.camera, one.bytes, one.rolls, one.unsized)
                for one in seen.days]  # fmt: skip
        return ("day", "unit", "camera", "bytes", "rolls", "of unknown size"), list(days)
    if name == "space":
        return ("drive", "place", "on it (bytes)", "capacity (bytes)"), list(_filled(seen))
    if name == "growth":
        lines = [(one.day, one.copied, one.delivered) for one in seen.grown]
        return ("day", "copied (bytes)", "drives delivered (bytes)"), list(lines)
    raise NotFound
