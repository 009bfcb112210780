"""Where each card was over the days: a line for each card, thick where something is known."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from dashboards.frame import BLUE, GREEN, ORANGE, ROW, Figure, axis, figure
from tracker.planning.past import WORST, Run, Stretch, What

LOOK: dict[What, tuple[str, int]] = {
    "holds footage, covered": (GREEN, 4),
    "in a camera": (BLUE, 9),
    "holds footage, not covered": (ORANGE, 15),
}
"""Colour, and width in pixels: what is dangerous is widest, so that colour only repeats it."""

Piece = tuple[str, str, str, What, str]
"""Card, from, to, what was true of it, and which rolls."""


def by_the_minute(found: Iterable[Stretch], zone: ZoneInfo, cards: Sequence[str]) -> Figure:
    """Each stretch as it was, by the clock of a zone. cards: all that have a line, in order."""
    return _figure(
        [
            (one.card, _clock(one.start, zone), _clock(one.end, zone), one.what, one.says)
            for one in found
        ],
        cards,
    )


def _clock(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M:%S}"


def day_by_day(found: Iterable[Run], cards: Sequence[str]) -> Figure:
    """Days in a row, called after the worst that was true on them."""
    return _figure(
        [
            (one.card, f"{one.first}", f"{one.last + timedelta(days=1)}", one.what, _days(one))
            for one in found
        ],
        cards,
    )


def _days(one: Run) -> str:
    return f"{one.first}" if one.first == one.last else f"{one.first} to {one.last}"


def _figure(pieces: Sequence[Piece], cards: Sequence[str]) -> Figure:
    traces = [_trace(pieces, what) for what in reversed(WORST)]
    order = list(reversed(cards))
    y = axis("Card", type="category", categoryorder="array", categoryarray=order)
    y |= {"range": [-0.5, max(len(order), 1) - 0.5]}
    x = axis("Day, by the clock of the production", type="date")
    return figure(traces, x, y, height=max(240, 140 + ROW * len(order)))


def _trace(pieces: Sequence[Piece], what: What) -> dict[str, Any]:
    """All stretches of one kind as one line with gaps: quick to draw at any number of cards."""
    colour, width = LOOK[what]
    xs: list[str | None] = []
    ys: list[str | None] = []
    says: list[str | None] = []
    for card, start, end, kind, text in pieces:
        if kind == what:
            xs += [start, end, None]
            ys += [card, card, None]
            says += [text, text, None]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": what,
        "x": xs,
        "y": ys,
        "text": says,
        "connectgaps": False,
        "line": {"color": colour, "width": width},
        "hovertemplate": "%{y}: " + what + "<br>%{text}<extra></extra>",
    }
