"""Data a day, the space on the drives, and what was bought against what was copied."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from dashboards.frame import BLUE, GREEN, GREY, ORANGE, ROW, TERABYTE, Figure, axis, figure

HUES = (BLUE, ORANGE, GREEN, "#cc79a7", "#b58900", "#56b4e9", GREY)
PATTERNS = ("", "/", "x", "-", "|", "+", ".")
"""Cameras are told apart by the pattern too, so that colour only repeats it."""

Day = tuple[date, str, int]
"""A day, a camera with its crew unit, and bytes."""

Filled = tuple[str, str, int, int]
"""A drive, its place, bytes that are known to be on it, and its capacity in bytes."""


def days(found: Sequence[Day]) -> Figure:
    """Bars a day, stacked by camera: terabytes."""
    cameras = sorted({camera for _, camera, _ in found})
    traces: list[dict[str, Any]] = []
    for number, camera in enumerate(cameras):
        mine = [(day, size) for day, one, size in found if one == camera]
        pattern = PATTERNS[(number + number // len(HUES)) % len(PATTERNS)]
        traces.append(
            {
                "type": "bar",
                "name": camera,
                "x": [f"{day}" for day, _ in mine],
                "y": [size / TERABYTE for _, size in mine],
                "marker": {"color": HUES[number % len(HUES)], "pattern": {"shape": pattern}},
                "hovertemplate": f"{camera}<br>%{{x}}: %{{y:.2f}} TB<extra></extra>",
            }
        )
    x = axis("Shooting day, by the clock of the production", type="date")
    return figure(traces, x, axis("Out of cameras, TB (10¹² bytes)"), barmode="stack", height=420)


def space(found: Sequence[Filled]) -> Figure:
    """A bar for each drive: what is on it, and what is left. By place, then by label."""
    order = sorted(found, key=lambda one: (one[1], one[0]), reverse=True)
    names = [f"{drive} ({place})" for drive, place, _, _ in order]
    parts = (
        ("on it, as far as is known", BLUE, "", [full for _, _, full, _ in order]),
        ("left", GREY, "/", [max(0, size - full) for _, _, full, size in order]),
    )
    traces: list[dict[str, Any]] = [
        {
            "type": "bar",
            "orientation": "h",
            "name": name,
            "y": names,
            "x": [size / TERABYTE for size in sizes],
            "marker": {"color": colour, "pattern": {"shape": shape}},
            "hovertemplate": f"%{{y}}<br>{name}: %{{x:.2f}} TB<extra></extra>",
        }
        for name, colour, shape, sizes in parts
    ]
    y = axis("Drive", type="category", categoryorder="array", categoryarray=names)
    x = axis("TB (10¹² bytes)", rangemode="tozero")
    return figure(traces, x, y, barmode="stack", height=max(240, 140 + ROW * len(names)))


def growth(found: Sequence[tuple[date, int, int]]) -> Figure:
    """Two lines that only grow: what was copied, and what drives were delivered."""
    lines = (
        ("copied to drives", BLUE, "solid", [copied for _, copied, _ in found]),
        ("drives delivered", ORANGE, "dash", [came for _, _, came in found]),
    )
    traces: list[dict[str, Any]] = [
        {
            "type": "scatter",
            "mode": "lines",
            "name": name,
            "x": [f"{day}" for day, _, _ in found],
            "y": [size / TERABYTE for size in sizes],
            "line": {"color": colour, "width": 3, "dash": dash, "shape": "hv"},
            "hovertemplate": f"%{{x}}: {name} %{{y:.1f}} TB<extra></extra>",
        }
        for name, colour, dash, sizes in lines
    ]
    y = axis("In all up to that day, TB (10¹² bytes)", rangemode="tozero")
    return figure(traces, axis("Day", type="date"), y, height=420)
