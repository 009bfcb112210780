"""Writes, wear and rotation: a sentence, a figure, a table and a file that say the same."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import plotly
import pytest

from tests.services.harbour import GB, KIM
from tests.web.visitor import Crew
from tracker.services import acts_camera
from tracker.web import look


def shot(crew: Crew, card: str = "S-014") -> None:
    harbour = crew.harbour
    acts_camera.load(harbour.service, KIM, card, "A")
    harbour.clock.wait(60)
    acts_camera.pull(harbour.service, KIM, card, bytes_=480 * GB)
    harbour.clock.wait()


def table(crew: Crew, path: str) -> list[dict[str, str]]:
    answer = crew.pat.client.get(path)
    assert answer.status_code == 200
    assert "attachment" in answer.headers["Content-Disposition"]
    return list(csv.DictReader(io.StringIO(answer.text)))


def test_writes_and_wear_in_four_ways(crew: Crew) -> None:
    shot(crew)
    page = crew.pat.get("/office/wear")
    assert "1 card carries half of all that was shot here, of 3 in the pool." in page.says
    assert "Wear is unknown for every card: nobody said what one is rated for." in page.says
    assert "480 GB its rolls: 1 0.5 unknown: no rating is known" in page.says
    figure = crew.pat.client.get("/office/wear/writes.json").json
    assert figure is not None
    assert figure["data"][1]["x"] == [0, 0, 0.48]
    first = table(crew, "/office/wear/writes.csv")[0]
    assert (first["card"], first["written (bytes)"]) == ("S-014", "480000000000")
    assert first["wear (1 is the rating)"] == ""
    curve = crew.pat.client.get("/office/wear/evenness.json").json
    assert curve is not None
    shares = [float(row["share of writes"]) for row in table(crew, "/office/wear/evenness.csv")]
    assert [100 * one for one in shares] == curve["data"][0]["y"]
    for nothing in ("/office/wear/speed.json", "/office/wear/speed.csv"):
        assert crew.pat.client.get(nothing).status_code == 404


def test_rotation_in_four_ways(crew: Crew) -> None:
    shot(crew)
    page = crew.pat.get("/office/rotation")
    assert "1 card was in a camera in this time." in page.says
    assert "Held footage that is not covered, or was formatted before it was: S-014." in page.says
    by_day = crew.pat.client.get("/office/rotation.json").json
    by_minute = crew.pat.client.get("/office/rotation.json?days=1").json
    assert by_day is not None and by_minute is not None
    (danger,) = [t for t in by_day["data"] if t["name"] == "holds footage, not covered"]
    assert danger["x"] == ["2026-03-02", "2026-03-03", None]
    (camera,) = [t for t in by_minute["data"] if t["name"] == "in a camera"]
    assert camera["x"] == ["2026-03-02 10:10:00", "2026-03-02 11:10:00", None]
    rows = table(crew, "/office/rotation.csv?days=7")
    assert [(row["card"], row["what"]) for row in rows] == [
        ("S-014", "in a camera"),
        ("S-014", "holds footage, not covered"),
    ]


def test_other_days_are_a_link_away(crew: Crew) -> None:
    shot(crew)
    page = crew.pat.get("/office/rotation?days=7&until=2026-03-02")
    assert "/office/rotation?days=7&until=2026-02-23" in page.read.links
    assert "No card was in a camera" in crew.pat.get("/office/rotation?until=2026-02-01").says


@pytest.mark.parametrize("query", ["days=-1", "days=x&until=soon", "until=9999-12-31", "days=all"])
def test_what_cannot_be_read_is_as_if_nobody_had_asked(crew: Crew, query: str) -> None:
    assert crew.pat.get(f"/office/rotation?{query}").status == 200


def test_an_empty_production(crew: Crew) -> None:
    assert "Nothing of known size" in crew.pat.get("/office/wear").says
    assert "No card was in a camera" in crew.pat.get("/office/rotation?days=all").says


# What draws them


def test_plotly_comes_from_its_package_and_is_kept_for_ever(crew: Crew) -> None:
    text = crew.pat.client.get("/office/wear").text
    (address,) = set(re.findall(r'data-plotly="([^"]+)"', text))
    with crew.nobody.client.get(address) as answer:
        package = Path(plotly.__file__).parent / "package_data" / look.PLOTLY
        assert answer.data == package.read_bytes()
        assert "immutable" in answer.headers["Cache-Control"]
    for other in ("../__init__.py", "widgetbundle.js", "datasets"):
        assert crew.nobody.client.get(f"/static/{other}").status_code == 404


def test_no_page_of_the_loader_names_it(crew: Crew) -> None:
    for path in ("/loader", "/now", "/drives", "/office"):
        assert "plotly" not in crew.kim.client.get(path).text


def test_data_and_space_in_four_ways(crew: Crew) -> None:
    shot(crew)
    page = crew.pat.get("/office/data")
    assert "480 GB a day on 1 day of shooting; most on 2026-03-02: 480 GB." in page.says
    assert "2026-03-02 A, main 480 GB 1" in page.says
    assert "92 TB is left on 3 drives" in page.says
    figure = crew.pat.client.get("/office/data/days.json").json
    assert figure is not None
    assert figure["data"][0]["y"] == [0.48]
    (row,) = table(crew, "/office/data/days.csv")
    assert row["bytes"] == "480000000000"
    for name in ("space", "growth"):
        assert crew.pat.client.get(f"/office/data/{name}.json").status_code == 200
        table(crew, f"/office/data/{name}.csv")
    assert crew.pat.client.get("/office/data/nothing.csv").status_code == 404
