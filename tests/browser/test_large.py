"""Pages in a real browser with six weeks of data on them: forty cards, hundreds of rolls."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Served, serve
from tests.browser.judged import holds
from tests.demo import demo
from tests.services.harbour import Clock, Harbour
from tests.web.visitor import Crew
from tracker.reminders.notices import tick
from tracker.web.app import create_app

RAID = "HERON-RAID"
OPENED = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory, chromium: Any) -> Iterator[Served]:
    """The demo production, served for real."""
    scratch: Path = tmp_path_factory.mktemp("demo")
    with demo(scratch) as service:
        tick(service)
        app = create_app(service, {}.get)
        server, address = serve(app)
        told = Served(Crew(Harbour(service, Clock()), app), address, chromium, [])
        yield told
        for context in told.opened:
            context.close()
        server.task_dispatcher.shutdown(timeout=5)
        server.close()


@pytest.mark.parametrize(
    ("name", "path"),
    [
        ("Kim", f"/drives/{RAID}"),
        ("Kim", f"/drive/lose/{RAID}"),
        ("Kim", "/drives"),
        ("Kim", "/morning"),
        ("Lee", "/morning"),
        ("Lee", "/now?show=below"),
        ("Lee", "/camera/A"),
        ("Lee", "/find?q=A0"),
        ("Kim", "/reminders"),
        ("Kim", "/reminders/rules"),
        ("Kim", "/reminders/outbox"),
        ("Kim", "/shift"),
        ("Kim", "/me/told-by"),
    ],
)
def test_a_page_with_much_on_it_is_fit_at_every_width(large: Served, name: str, path: str) -> None:
    for width in WIDTHS:
        touch = width < 768
        page = large.look(name, path, width=width, touch=touch)
        page.evaluate(OPENED)
        holds(page, least=48 if touch else 44)
        page.context.close()
        large.opened.remove(page.context)


def test_a_tablet_held_upright_shows_the_rolls_of_a_drive_as_sheets(large: Served) -> None:
    page = large.look("Kim", f"/drives/{RAID}", width=768)
    shown = "getComputedStyle(document.querySelector('table.sheets tbody tr')).display"
    assert page.evaluate(shown) == "block"
    page.set_viewport_size({"width": 1024, "height": 900})
    assert page.evaluate(shown) == "table-row"
    page.goto(f"{large.address}/drives")
    page.set_viewport_size({"width": 768, "height": 900})
    assert page.evaluate(shown) == "table-row"


def test_the_question_names_ten_in_the_open_and_hundreds_in_a_list_to_open(large: Served) -> None:
    page = large.look("Kim", f"/drive/lose/{RAID}", width=360, touch=True)
    assert page.locator(".losses > li").count() == 10
    button = page.get_by_role("button", name="Log it as lost").bounding_box()
    assert button["y"] < 4_000
    more = page.locator("summary", has_text="more that would fall below the rule")
    count = int(re.findall(r"\d+", more.inner_text())[0])
    assert count > 200
    assert not page.locator(".names li").first.is_visible()
    more.click()
    names = page.locator("details[open] .names li").all_inner_texts()
    assert len(names) == count
    assert len(set(names)) == count
