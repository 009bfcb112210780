"""The pages of the production office in a real browser: at every width, in both lights, by keys."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tests.services.harbour import GB, KIM
from tracker.domain.purchases import Movement, Purchase
from tracker.services import acts_camera, purchases
from tracker.services.service import new_id

DAY = date(2026, 2, 20)


def bought(served: Served) -> str:
    """Two drives, one of which came; the other is late. More than the budget."""
    service, name = served.harbour.service, new_id()
    purchase = Purchase(
        order="PO-7", item="8 TB drive", kind="drives", terms="bought", vendor="Quay Supplies",
        quantity=2, unit_price=19_999, currency="EUR", ordered=DAY, due=date(2026, 2, 27),
        capacity_bytes=8 * 10**12, media="hdd",
    )  # fmt: skip
    purchases.add(service, KIM, name, purchase)
    moved = Movement("delivered", date(2026, 2, 26), 1)
    purchases.deliver(service, KIM, name, moved, [], place="on set", tap=new_id())
    purchases.set_budget(service, KIM, "EUR", 30_000)
    return name


@pytest.mark.parametrize("dark", [False, True])
def test_the_pages_are_fit_at_every_width(served: Served, dark: bool) -> None:
    name = bought(served)
    for path in ("/office", f"/office/purchases/{name}"):
        page = served.look("Pat", path, dark=dark)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            holds(page, least=48 if width < 768 else 44)


def shot(served: Served) -> None:
    """S-014 came out of camera A, full of 480 GB; nothing of it is covered."""
    harbour = served.harbour
    acts_camera.load(harbour.service, KIM, "S-014", "A")
    harbour.clock.wait(60)
    acts_camera.pull(harbour.service, KIM, "S-014", bytes_=480 * GB)
    harbour.clock.wait()


def test_figures_are_drawn_and_nothing_is_refused_or_fetched_elsewhere(served: Served) -> None:
    shot(served)
    drawn = (
        ("/office/wear", ".bars .point path"),
        ("/office/rotation", ".js-line"),
        ("/office/data", ".bars .point path"),
    )
    for path, lines in drawn:
        page = served.look("Pat", "/office", width=1440, dark=True)
        said: list[str] = []
        asked: list[str] = []
        page.on("console", lambda line, said=said: said.append(line.text))
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.goto(served.address + path)
        page.wait_for_function("document.querySelectorAll('.figure:not(.drawn)').length === 0")
        assert page.locator(lines).count() >= 1
        # Plotly brings the style of its maps, which nobody draws here: it is refused, once.
        assert [line.startswith("Applying inline style violates") for line in said] == [True]
        assert all(address.startswith(served.address) for address in asked)
        for width in (1440, 768):
            page.set_viewport_size({"width": width, "height": 900})
            holds(page, least=44)


def test_the_picture_is_taken_along(served: Served) -> None:
    shot(served)
    page = served.look("Pat", "/office/wear", width=1440)
    page.wait_for_selector(".figure.drawn")
    button = page.get_by_role("button", name="writes by card")
    button.focus()
    with page.expect_download() as waiting:
        page.keyboard.press("Enter")
    picture = Path(waiting.value.path()).read_text()
    assert waiting.value.suggested_filename == "writes-by-card.svg"
    assert picture.startswith("<svg")
    assert "S-014" in picture


def test_a_phone_fetches_no_plotly_until_it_is_asked(served: Served) -> None:
    shot(served)
    asked: list[str] = []
    page = served.look("Kim", "/office")
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{served.address}/office/rotation")
    page.wait_for_load_state("networkidle")
    assert not any("plotly" in address for address in asked)
    for width in (360, 390):
        page.set_viewport_size({"width": width, "height": 900})
        holds(page)
    page.get_by_role("button", name="Draw it here").first.click()
    page.wait_for_selector(".figure.drawn")
    holds(page)
