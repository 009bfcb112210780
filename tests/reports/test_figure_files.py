"""Figures as files: they open without the service, and their numbers are those of the rows."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import plotly.graph_objects as go
import pytest

from tests.services.harbour import GB, KIM, Clock, Harbour, begin
from tracker.domain.purchases import Movement, Purchase
from tracker.reports.figure_files import write_figures
from tracker.reports.figures import all_figures
from tracker.services import acts_camera, purchases
from tracker.services.service import new_id
from tracker.store.engine import Store

NAMES = ["writes", "evenness", "rotation", "days", "space", "growth"]


@pytest.fixture
def harbour(new_store: Callable[..., Store]) -> Harbour:
    """S-014 was shot, and copied to RAID and VAULT; a drive of 8 TB was delivered."""
    harbour = begin(new_store("sqlite"), Clock())
    acts_camera.load(harbour.service, KIM, "S-014", "A", roll="</script>A001")
    harbour.clock.wait(60)
    acts_camera.pull(harbour.service, KIM, "S-014", bytes_=480 * GB)
    harbour.checked("S-014", "RAID", "VAULT")
    name = new_id()
    bought = Purchase(
        order="PO-7", item="8 TB drive", kind="drives", terms="bought", vendor="Quay", quantity=2,
        unit_price=1, currency="EUR", ordered=date(2026, 3, 1), capacity_bytes=8_000 * GB,
    )  # fmt: skip
    purchases.add(harbour.service, KIM, name, bought)
    moved = Movement("delivered", date(2026, 3, 1), 1)
    purchases.deliver(harbour.service, KIM, name, moved, [], place="on set", tap=new_id())
    return harbour


def test_every_figure_is_one_that_plotly_knows(harbour: Harbour) -> None:
    drawn = all_figures(harbour.service)
    assert [one.name for one in drawn] == NAMES
    for one in drawn:
        go.Figure(json.loads(json.dumps(one.figure)))
        assert one.says.endswith(".")


def test_an_empty_production_has_them_all(new_store: Callable[..., Store]) -> None:
    empty = begin(new_store("sqlite"), Clock())
    for one in all_figures(empty.service):
        go.Figure(json.loads(json.dumps(one.figure)))
        assert one.header[0] in one.csv()


def test_they_are_written_to_open_anywhere(harbour: Harbour, tmp_path: Path) -> None:
    folder = tmp_path / "new" / "figures"
    written = write_figures(all_figures(harbour.service), folder, "Harbour & <Co>")
    assert sorted(folder.iterdir()) == sorted(written)
    index = (folder / "index.html").read_text()
    assert "Harbour &amp; &lt;Co&gt;" in index
    for name in NAMES:
        assert f'href="{name}.html"' in index
        text = (folder / f"{name}.html").read_text()
        assert "http" not in text
        # What anybody typed does not end the script.
        assert text.count("</script>") == 2
        found = re.search(r"const figure = (.*);\n", text)
        assert found
        go.Figure(json.loads(found[1]))


def rows(harbour: Harbour, name: str) -> list[dict[str, str]]:
    (one,) = [one for one in all_figures(harbour.service) if one.name == name]
    return list(csv.DictReader(one.csv().splitlines()))


def test_their_numbers_are_those_of_the_rows(harbour: Harbour) -> None:
    (day,) = rows(harbour, "days")
    assert (day["day"], day["camera"], day["unit"]) == ("2026-03-02", "A", "main")
    assert day["bytes"] == str(480 * GB)
    filled = {row["drive"]: row["on it (bytes)"] for row in rows(harbour, "space")}
    assert filled == {"RAID": str(480 * GB), "SHUTTLE": "0", "VAULT": str(480 * GB)}
    assert [tuple(row.values()) for row in rows(harbour, "growth")] == [
        ("2026-03-01", "0", str(8_000 * GB)),
        ("2026-03-02", str(960 * GB), str(8_000 * GB)),
    ]
    assert {row["rolls"] for row in rows(harbour, "rotation")} == {
        "</script>A001 in A",
        "</script>A001",
    }
