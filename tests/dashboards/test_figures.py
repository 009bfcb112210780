"""Figures say what the rows say: tested by value, and taken by Plotly as they are."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards import data, rotation, wear
from dashboards.frame import Figure
from tracker.planning.past import WORST, Run, Stretch, What
from tracker.planning.wear import Written, lorenz, wear_of

TB = 10**12
HELSINKI = ZoneInfo("Europe/Helsinki")
FIRST = date(2026, 3, 1)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def taken(figure: Figure) -> Any:
    """The figure, as Plotly checks it: every name and every value is one that it knows."""
    again = json.loads(json.dumps(figure))
    return go.Figure(again)


def card(label: str, terabytes: float, **more: Any) -> Any:
    return wear_of(Written(label, TB, round(terabytes * TB), 1, 0, **more))


def test_a_bar_for_each_card_written_to_most_at_the_top() -> None:
    figure = taken(wear.writes([card("S-014", 3, endurance_tb=600), card("S-015", 0.5)]))
    counted, bars = figure.data
    assert list(counted.y) == []
    # Plotly draws the first one at the bottom.
    assert list(bars.y) == ["S-015", "S-014"]
    assert list(bars.x) == [0.5, 3.0]
    assert list(map(list, bars.customdata)) == [
        ["0.5 full-card writes", "wear unknown"],
        ["3.0 full-card writes", "wear 0.5%, by the rating"],
    ]
    assert list(figure.layout.yaxis.categoryarray) == ["S-015", "S-014"]
    assert "TB" in figure.layout.xaxis.title.text


def test_the_curve_of_evenness() -> None:
    curve, alike = taken(wear.evenness(lorenz([4, 1, 2, 1]))).data
    assert list(curve.x) == [0, 25, 50, 75, 100]
    assert list(curve.y) == [0, 12.5, 25, 50, 100]
    assert (list(alike.x), list(alike.y)) == ([0, 100], [0, 100])


@pytest.mark.parametrize("cards", [[], ["S-014"]])
def test_empty_productions_have_their_figures_too(cards: list[str]) -> None:
    taken(wear.writes([card(one, 0) for one in cards]))
    taken(wear.evenness([]))
    taken(rotation.day_by_day([], cards))


def test_each_stretch_is_a_line_by_the_productions_clock() -> None:
    found = [
        Stretch("S-014", NOON, NOON + timedelta(hours=2), "in a camera", "A001 in A"),
        Stretch("S-015", NOON, NOON + timedelta(hours=1), "in a camera", "B001 in B"),
    ]
    figure = taken(rotation.by_the_minute(found, HELSINKI, ["S-014", "S-015"]))
    traces = {one.name: one for one in figure.data}
    assert set(traces) == set(WORST)
    line = traces["in a camera"]
    assert list(line.x) == ["2026-03-02 14:00:00", "2026-03-02 16:00:00", None,
                            "2026-03-02 14:00:00", "2026-03-02 15:00:00", None]  # fmt: skip
    assert list(line.y) == ["S-014", "S-014", None, "S-015", "S-015", None]
    assert next(iter(line.text)) == "A001 in A"
    # The first card stands at the top.
    assert list(figure.layout.yaxis.categoryarray) == ["S-015", "S-014"]


def test_what_is_dangerous_is_widest_and_drawn_last() -> None:
    figure = taken(rotation.day_by_day([], ["S-014"]))
    assert figure.data[-1].name == "holds footage, not covered"
    assert [one.line.width for one in figure.data] == sorted(one.line.width for one in figure.data)


RUNS = st.lists(
    st.builds(
        lambda label, start, length, what: Run(
            label, FIRST + timedelta(start), FIRST + timedelta(start + length), what
        ),
        st.sampled_from(["S-014", "S-015", "S-016"]),
        st.integers(0, 60),
        st.integers(0, 20),
        st.sampled_from(WORST),
    ),
    max_size=20,
)  # fmt: skip


@given(RUNS)
def test_every_run_of_days_is_drawn_once(found: list[Run]) -> None:
    figure = rotation.day_by_day(found, ["S-014", "S-015", "S-016"])
    drawn: list[tuple[str, str, str, What]] = []
    for trace in figure["data"]:
        for n in range(0, len(trace["x"]), 3):
            first, end, gap = trace["x"][n : n + 3]
            assert gap is None
            drawn.append((trace["y"][n], first, end, trace["name"]))
    said = [(one.card, f"{one.first}", f"{one.last + timedelta(1)}", one.what) for one in found]
    assert sorted(drawn) == sorted(said)


# Data and space


def test_cameras_are_stacked_and_told_apart_without_colour() -> None:
    found = [(FIRST, f"{one}, main", TB) for one in "ABCDEFGHIJ"] + [(FIRST, "A, main", TB)]
    figure = taken(data.days(found[:10]))
    assert figure.layout.barmode == "stack"
    looks = [(one.marker.color, one.marker.pattern.shape) for one in figure.data]
    assert len(set(looks)) == 10
    neighbours = [two.marker.pattern.shape for two in figure.data]
    assert all(one != two for one, two in pairwise(neighbours))


@given(st.lists(st.tuples(st.dates(), st.sampled_from("ABC"), st.integers(0, 10**14)), max_size=9))
def test_all_data_is_drawn(found: list[tuple[date, str, int]]) -> None:
    drawn = sum(sum(trace["y"]) for trace in data.days(found)["data"])
    assert drawn == pytest.approx(sum(size for _, _, size in found) / TB)


def test_what_is_on_a_drive_and_what_is_left() -> None:
    figure = taken(data.space([("RAID", "on set", 3 * TB, 8 * TB), ("V", "lab", 9 * TB, 8 * TB)]))
    full, left = figure.data
    assert list(full.y) == ["RAID (on set)", "V (lab)"]
    assert (list(full.x), list(left.x)) == ([3.0, 9.0], [5.0, 0.0])


def test_what_was_bought_beside_what_was_copied() -> None:
    copied, came = taken(data.growth([(FIRST, TB, 8 * TB)])).data
    assert (list(copied.x), list(copied.y), list(came.y)) == (["2026-03-01"], [1.0], [8.0])
    assert copied.line.dash != came.line.dash
