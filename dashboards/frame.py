"""What all figures share."""

from __future__ import annotations

from typing import Any

Figure = dict[str, Any]

BLUE, ORANGE, GREEN, GREY = "#0072b2", "#d55e00", "#009e73", "#7f8a84"
ROW = 22
"""Pixels for one card."""

TERABYTE = 10**12


def axis(title: str, **more: Any) -> dict[str, Any]:
    """An axis, with what it measures and its unit."""
    return {"title": {"text": title}, "automargin": True, "zeroline": False, **more}


def figure(data: list[dict[str, Any]], x: dict[str, Any], y: dict[str, Any], **more: Any) -> Figure:
    """A figure of traces between two axes."""
    layout = {
        "xaxis": x,
        "yaxis": y,
        "margin": {"l": 64, "r": 16, "t": 16, "b": 56},
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "hovermode": "closest",
        **more,
    }
    return {"data": data, "layout": layout}
