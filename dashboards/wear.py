"""Writes by card, and how evenly the cards are used."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from dashboards.frame import BLUE, GREEN, GREY, ORANGE, ROW, TERABYTE, Figure, axis, figure
from tracker.planning.wear import Wear

LOOK = {"its counter": (BLUE, ""), "its rolls": (GREEN, "/")}
"""By where the bytes are known from: a counter knows the life before too, rolls do not."""


def writes(cards: Sequence[Wear]) -> Figure:
    """A bar for each card, written to most at the top: terabytes written, with what it means."""
    order = [one.card.label for one in reversed(cards)]
    traces = []
    for source, (colour, pattern) in LOOK.items():
        shown = [one for one in reversed(cards) if one.source == source]
        traces.append(
            {
                "type": "bar",
                "orientation": "h",
                "name": f"known from {source}",
                "y": [one.card.label for one in shown],
                "x": [one.bytes / TERABYTE for one in shown],
                "customdata": [[_fills(one), _wear(one)] for one in shown],
                "marker": {"color": colour, "pattern": {"shape": pattern}},
                "hovertemplate": "%{y}: %{x:.2f} TB written<br>%{customdata[0]}"
                "<br>%{customdata[1]}<extra></extra>",
            }
        )
    y = axis("Card", type="category", categoryorder="array", categoryarray=order)
    x = axis("Written, TB (10¹² bytes)", rangemode="tozero")
    height = max(240, 140 + ROW * len(order))
    return figure(traces, x, y, height=height, barmode="stack", showlegend=True)


def _fills(one: Wear) -> str:
    return "full-card writes unknown" if one.fills is None else f"{one.fills:.1f} full-card writes"


def _wear(one: Wear) -> str:
    return "wear unknown" if one.wear is None else f"wear {one.wear:.1%}, by {one.wear_source}"


def evenness(points: Sequence[tuple[Fraction, Fraction]]) -> Figure:
    """The Lorenz curve of writes: which share of them the least used cards carry."""
    curve = {
        "type": "scatter",
        "mode": "lines+markers",
        "name": "these cards",
        "x": [100 * float(x) for x, _ in points],
        "y": [100 * float(y) for _, y in points],
        "line": {"color": ORANGE, "width": 3},
        "marker": {"size": 5},
        "hovertemplate": "the least used %{x:.0f} % of cards<br>"
        "carry %{y:.0f} % of all that was shot<extra></extra>",
    }
    alike = {
        "type": "scatter",
        "mode": "lines",
        "name": "all cards alike",
        "x": [0, 100],
        "y": [0, 100],
        "line": {"color": GREY, "width": 2, "dash": "dash"},
        "hoverinfo": "skip",
    }
    x = axis("Share of cards, the least used first, %", range=[0, 100])
    y = axis("Share of all that was shot, %", range=[0, 100])
    return figure([curve, alike], x, y, height=420)
