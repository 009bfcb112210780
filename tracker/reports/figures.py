"""Every figure with its name, the sentence that says what it shows today, and its numbers."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from dashboards import data as data_figure
from dashboards import rotation as rotation_figure
from dashboards import wear as wear_figure
from dashboards.frame import Figure
from tracker.planning.past import runs
from tracker.planning.wear import lorenz
from tracker.services import data_page, rotation_page, wear_page
from tracker.services.data_page import DataSeen, DayOfCamera
from tracker.services.rotation_page import Rotation
from tracker.services.service import Service
from tracker.services.wear_page import Worn
from tracker.wire.table import safe_text


@dataclass(frozen=True, slots=True)
class Drawn:
    """A figure. says: what it says today. header, rows: its numbers; None is unknown."""

    name: str
    title: str
    says: str
    figure: Figure
    header: Sequence[str]
    rows: Iterable[Sequence[Any]]

    def csv(self) -> str:
        """The numbers as CSV (RFC 4180); what is unknown is an empty cell."""
        out = io.StringIO(newline="")
        writer = csv.writer(out)
        writer.writerow(self.header)
        for row in self.rows:
            writer.writerow([safe_text(cell) if isinstance(cell, str) else cell for cell in row])
        return out.getvalue()


def all_figures(service: Service) -> list[Drawn]:
    """Every figure of the production, over all of its days."""
    seen = rotation_page.rotation(service, None, None)
    return [*wear_figures(service), rotation_drawn(seen), *data_figures(service)]


# Writes and wear


def wear_figures(service: Service) -> list[Drawn]:
    """What was written to each card, and how evenly they are used."""
    cards = wear_page.cards_worn(service)
    return [_writes(cards), _evenness(cards)]


def _writes(cards: Sequence[Worn]) -> Drawn:
    rows = [
        (
            one.label, one.status, one.maker_model, one.wear.card.capacity_bytes, one.wear.bytes,
            "yes" if one.wear.at_least else "no", one.wear.source, one.wear.fills,
            one.wear.card.endurance_tb, one.wear.wear, one.wear.wear_source, one.damage,
            one.mishaps,
        )
        for one in cards
    ]  # fmt: skip
    return Drawn(
        "writes",
        "Writes by card",
        f"{wear_page.reading_of_writes(cards)} {wear_page.reading_of_wear(cards)}",
        wear_figure.writes([one.wear for one in cards]),
        ("card", "status", "maker and model", "capacity (bytes)", "written (bytes)",
         "more was written", "known from", "full-card writes", "rating (TBW, TB)",
         "wear (1 is the rating)", "wear by", "damages", "mishaps"),
        rows,
    )  # fmt: skip


def _evenness(cards: Sequence[Worn]) -> Drawn:
    points = lorenz(wear_page.logged_sizes(cards))
    return Drawn(
        "evenness",
        "Evenness of use",
        "The further the line hangs below the dashed one, the more a few cards carry.",
        wear_figure.evenness(points),
        ("share of cards, least used first", "share of writes"),
        [(float(x), float(y)) for x, y in points],
    )


# Rotation


def rotation_drawn(seen: Rotation) -> Drawn:
    """Where the cards were: by the minute where it is short enough, else day by day."""
    cards = sorted(seen.days)
    figure = (
        rotation_figure.by_the_minute(seen.stretches_of(), seen.zone, cards)
        if seen.exact
        else rotation_figure.day_by_day(runs(seen.days), cards)
    )
    header = ("card", "from", "to", "what", "rolls")
    return Drawn("rotation", "Rotation", rotation_page.reading(seen), figure, header, _each(seen))


def _each(seen: Rotation) -> Iterator[Sequence[Any]]:
    """Every stretch as it was; made only when it is asked for, since there may be many."""
    for one in seen.stretches_of():
        start, end = (at.astimezone(seen.zone) for at in (one.start, one.end))
        yield one.card, f"{start:%Y-%m-%d %H:%M:%S}", f"{end:%Y-%m-%d %H:%M:%S}", one.what, one.says


# Data and space


def data_figures(service: Service) -> list[Drawn]:
    """Data a day, space on the drives, and what was bought against what was copied."""
    seen = data_page.data_seen(service)
    return [_days(seen), _space(seen), _growth(seen)]


def called(one: DayOfCamera) -> str:
    """A camera with its crew unit."""
    return f"{one.camera or 'a camera that nobody named'}, {one.unit or 'of no known unit'}"


def _days(seen: DataSeen) -> Drawn:
    return Drawn(
        "days",
        "Data a day",
        data_page.reading_of_days(seen),
        data_figure.days([(one.day, called(one), one.bytes) for one in seen.days]),
        ("day", "unit", "camera", "bytes", "rolls", "of unknown size"),
        [(one.day, one.unit, one.camera, one.known, one.rolls, one.unsized) for one in seen.days],
    )


def _space(seen: DataSeen) -> Drawn:
    filled = [
        (one.label, one.place, one.bytes or 0, one.capacity_bytes)
        for one in seen.drives
        if not one.state
    ]
    return Drawn(
        "space",
        "Space on the drives",
        data_page.reading_of_space(seen),
        data_figure.space(filled),
        ("drive", "place", "on it (bytes)", "capacity (bytes)"),
        filled,
    )


def _growth(seen: DataSeen) -> Drawn:
    lines = [(one.day, one.copied, one.delivered) for one in seen.grown]
    return Drawn(
        "growth",
        "Drives bought against what was copied",
        data_page.reading_of_growth(seen),
        data_figure.growth(lines),
        ("day", "copied (bytes)", "drives delivered (bytes)"),
        lines,
    )
