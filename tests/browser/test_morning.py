"""The morning in a real browser: by keys alone, at every width, and on paper."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tests.services.harbour import KIM
from tracker.domain.facts import PlanCommitted
from tracker.services import acts_camera, acts_day
from tracker.store import now_lists

FOCUSED = "[document.activeElement.labels?.[0]?.innerText, document.activeElement.innerText]"
MOST_KEYS = 120
A_PHONE_PAGE_BYTES = 60_000


def plans(served: Served) -> list[PlanCommitted]:
    with served.harbour.service.store.reading() as conn:
        return now_lists.plans(conn)


def tab_to(page: Any, words: str) -> None:
    """Go on by Tab until the field or the button of these words has the focus."""
    for _ in range(MOST_KEYS):
        page.keyboard.press("Tab")
        if any((said or "").strip() == words for said in page.evaluate(FOCUSED)):
            return
    raise AssertionError(f"no Tab leads to {words!r}")


@pytest.mark.parametrize("width", WIDTHS)
def test_a_whole_morning_without_a_mouse(served: Served, width: int) -> None:
    page = served.look("Kim", "/morning", width=width)
    tab_to(page, "Slot 1 of camera A")
    page.keyboard.type("S-016")
    tab_to(page, "Slot 2 of camera B")
    page.keyboard.type("S-014")
    tab_to(page, "Commit the plan")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert [(line["camera"], line["card"]) for line in plans(served)[-1].lines] == [
        ("A", "S-016"),
        ("B", "S-015"),
        ("B", "S-014"),
    ]
    tab_to(page, "Shooting day number, if you count them")
    page.keyboard.type("12")
    tab_to(page, "Call the main unit")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "Main unit called, day 12" in page.inner_text("main")
    tab_to(page, "Sheet to print")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "S-016" in page.inner_text(".paper")


def test_it_holds_at_every_width_in_both_lights_and_with_everything_on_it(served: Served) -> None:
    service = served.harbour.service
    acts_day.set_camera(service, KIM, "C", "second", takes="compact card")
    page = served.look("Kim", "/morning", touch=True)
    page.get_by_role("button", name="Commit the plan").click()
    page.wait_for_url("**said=**")
    served.harbour.clock.wait()
    acts_camera.load(service, KIM, "S-015", "A", roll="A001")
    served.harbour.clock.wait()
    acts_camera.load(service, KIM, "S-014", "A", roll="A002")
    for width in WIDTHS:
        for dark in (False, True):
            touch = width < 768
            page = served.look("Kim", "/morning", width=width, dark=dark, touch=touch)
            page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true })")
            holds(page, least=48 if touch else 44)
    for path in ("/morning/sheet", "/morning?unit=second"):
        page = served.look("Lee", path, width=360, touch=True)
        page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true })")
        holds(page)


def test_the_question_and_the_fault_hold_too_without_script(served: Served) -> None:
    service = served.harbour.service
    acts_camera.load(service, KIM, "S-016", "A", roll="A001")
    served.harbour.clock.wait()
    acts_camera.pull(service, KIM, "S-016")
    page = served.look("Kim", "/morning", width=360, touch=True)
    page.get_by_label("Spare 1 of camera A").select_option("S-014")
    page.get_by_role("button", name="Commit the plan").click()
    assert "Nothing was committed" in page.inner_text("main")
    holds(page)
    page.get_by_label("Spare 1 of camera A").select_option("S-016")
    page.get_by_role("button", name="Commit the plan").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Commit it all the same?"
    holds(page)
    plain = served.look("Kim", "/morning", width=360, script=False)
    plain.get_by_label("Spare 1 of camera A").select_option("S-016")
    plain.get_by_role("button", name="Commit the plan").click()
    plain.get_by_role("button", name="Commit it all the same").click()
    plain.wait_for_url("**said=**")
    assert "DO NOT FORMAT" in plain.inner_text("main")


def test_each_unit_is_one_page_of_paper_and_the_phone_page_is_light(served: Served) -> None:
    service = served.harbour.service
    acts_day.set_camera(service, KIM, "C", "second")
    for unit in ("main", "second"):
        page = served.look("Kim", f"/morning?unit={unit}")
        if unit == "main":
            page.get_by_label("Slot 2 of camera B").select_option("")
        page.get_by_role("button", name="Commit the plan").click()
        page.wait_for_url("**said=**")
    page = served.look("Pat", "/morning/sheet", width=1440)
    paper = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type /Page\b", paper)) == 2
    phone = served.look("Kim", "/healthz")
    weights: list[int] = []
    phone.on("response", lambda answer: weights.append(len(answer.body())))
    phone.goto(served.address + "/morning")
    phone.wait_for_load_state("networkidle")
    assert 0 < sum(weights) < A_PHONE_PAGE_BYTES
