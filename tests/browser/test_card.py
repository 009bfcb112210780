"""The page of a card in a real browser: at every width, in both lights, and without a mouse."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tests.services.harbour import GB, KIM, LEE
from tracker.services import acts_camera, acts_card, acts_copies


def shot(served: Served) -> None:
    """S-014 was formatted with the only copy on it; S-015 is out, with one copy that counts."""
    service, clock = served.harbour.service, served.harbour.clock
    acts_camera.swap(service, LEE, "S-014", "A")
    clock.wait(30)
    acts_camera.swap(service, LEE, "S-015", "A")
    clock.wait(30)
    acts_camera.pull(service, LEE, "S-015", bytes_=400 * GB, clips=12)
    acts_camera.format_in_camera(service, LEE, "S-014", camera="A")
    served.harbour.checked("S-015", "RAID")
    acts_copies.copy_finished(service, KIM, "S-015", "SHUTTLE")
    acts_card.note_damage(service, LEE, "S-015", "edge", 2, "a dent", photos=("0" * 64,))


def reach(page: Any, what: str) -> None:
    """Go on with the Tab key to what a selector means."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("(what) => document.activeElement.matches(what)", what):
            return
    raise AssertionError(f"the Tab key does not come to {what}")


@pytest.mark.parametrize("dark", [False, True])
def test_the_pages_are_fit_at_every_width(served: Served, dark: bool) -> None:
    shot(served)
    for path in (
        "/cards/S-014",
        "/cards/S-015",
        "/cards/S-016",
        "/cards/S-015?act=clear-against-the-rule",
        "/cards/S-015?act=damage",
        "/cards/S-014?act=load",
        "/cards/S-015?act=checked",
    ):
        page = served.look("Kim", path, dark=dark)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            holds(page, least=48 if width < 768 else 44)


def test_kim_checks_and_clears_by_keyboard(served: Served) -> None:
    shot(served)
    served.harbour.checked("S-015", "SHUTTLE")
    page = served.look("Kim", "/cards/S-015")
    reach(page, "a[href$='?act=clear']")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=What is on it, and its copies")
    reach(page, "main button.wide")
    page.keyboard.press("Enter")
    page.wait_for_selector(".told")
    assert "Cleared: may be formatted" in page.locator(".told").inner_text()
    assert page.locator("[data-format='may']").is_visible()


def test_lee_logs_a_pull_without_script(served: Served) -> None:
    acts_camera.load(served.harbour.service, LEE, "S-016", "B", formatted=True)
    page = served.look("Lee", "/cards/S-016", width=360, script=False)
    page.get_by_label("Size, as the camera shows it").fill("480 GB")
    page.get_by_role("button", name="Log it as pulled").click()
    assert "Pulled from the camera, 480 GB" in page.locator(".told").inner_text()
    assert page.locator("[data-format='not']").is_visible()


def test_a_phone_loads_little(served: Served) -> None:
    shot(served)
    sizes: list[int] = []
    page = served.look("Lee", "/sign-in")
    page.on("response", lambda answer: sizes.append(len(answer.body())))
    page.goto(f"{served.address}/cards/S-015")
    page.wait_for_load_state("networkidle")
    assert sum(sizes) < 60_000
