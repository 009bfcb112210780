"""The drives in a real browser: at every width, in both lights, and without a mouse."""

from __future__ import annotations

import pytest

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tests.services.harbour import KIM, LEE
from tracker.services import acts_camera, acts_drive


def shot(served: Served) -> None:
    """S-014 is on RAID and SHUTTLE; SHUTTLE is lost."""
    harbour = served.harbour
    acts_camera.swap(harbour.service, LEE, "S-014", "A")
    acts_camera.pull(harbour.service, LEE, "S-014")
    harbour.checked("S-014", "RAID", "SHUTTLE")
    acts_drive.set_todays_drives(harbour.service, KIM, ["RAID", "SHUTTLE"])
    acts_drive.lose_drive(harbour.service, KIM, "SHUTTLE")


@pytest.mark.parametrize("dark", [False, True])
def test_the_pages_are_fit_at_every_width(served: Served, dark: bool) -> None:
    shot(served)
    for path in ("/drives", "/drives/RAID", "/drives/SHUTTLE", "/drive/lose/RAID"):
        page = served.look("Kim", path, dark=dark)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            holds(page, least=48 if width < 768 else 44)


def test_kim_says_by_keyboard_that_a_drive_failed(served: Served) -> None:
    shot(served)
    page = served.look("Kim", "/drives/RAID")
    page.get_by_role("link", name="It does not work…").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("button.grave")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('button.grave')"):
            break
    page.keyboard.press("Enter")
    page.wait_for_selector(".told")
    assert "Drive RAID failed" in page.locator(".told").inner_text()


def test_a_phone_loads_little(served: Served) -> None:
    shot(served)
    sizes: list[int] = []
    page = served.look("Lee", "/sign-in")
    page.on("response", lambda answer: sizes.append(len(answer.body())))
    page.goto(f"{served.address}/drives")
    page.wait_for_load_state("networkidle")
    assert sum(sizes) < 60_000
