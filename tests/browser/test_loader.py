"""A loader's morning with a thumb, and by keys alone; and a page that is old gives no leave."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tracker.services import acts_card, acts_drive, codes
from tracker.services.service import Who

KIM = Who(by="kim")
LIGHTEST_BYTES = 60_000


def code(served: Served, label: str) -> str:
    found = codes.by_label(served.harbour.service, label)
    assert found is not None and found.code is not None
    return found.code


@pytest.fixture
def day(served: Served) -> Served:
    """A day on which somebody said where copies go."""
    acts_drive.set_todays_drives(served.harbour.service, KIM, ["RAID", "SHUTTLE"])
    return served


def button(page: Any, words: str) -> Any:
    return page.get_by_role("button", name=words, exact=True)


def tap(page: Any, words: str) -> None:
    """Press a button, and see what comes of it."""
    with page.expect_navigation():
        button(page, words).tap()


def test_a_loaders_morning_with_a_thumb(day: Served) -> None:
    page = day.look("Lee", "/loader", width=360, touch=True)
    page.get_by_label("Scan a card").fill(code(day, "S-014"))
    tap(page, "Show it")
    tap(page, "Into A as A001?")
    assert day.harbour.status("S-014") == "loaded"
    day.harbour.clock.wait(40)
    page.goto(day.address + "/camera/A")
    page.get_by_text("5 min ago", exact=True).tap()
    tap(page, "S-014 out of A")
    assert day.harbour.status("S-014") == "exposed"
    page.goto(f"{day.address}/c/{code(day, 'S-014')}")
    tap(page, "To the cart")
    tap(page, "Offloaded: copied to RAID and SHUTTLE")
    assert day.harbour.status("S-014") == "copied"
    tap(page, "Take this back")
    assert day.harbour.status("S-014") == "exposed"
    assert day.harbour.agrees()


@pytest.mark.parametrize(("width", "script"), [*((width, True) for width in WIDTHS), (360, False)])
def test_a_loaders_morning_by_keys_alone(day: Served, width: int, script: bool) -> None:
    page = day.look("Lee", "/loader", width=width, script=script)
    # A hand scanner types the label and Enter.
    page.locator("#code:focus").wait_for()
    page.keyboard.type("S-014")
    page.keyboard.press("Enter")
    page.wait_for_url("**/c/*")
    _press(page, "Into A as A001?")
    assert day.harbour.status("S-014") == "loaded"
    day.harbour.clock.wait(40)
    page.goto(day.address + "/camera/A")
    _press(page, "S-014 out of A")
    assert day.harbour.status("S-014") == "exposed"
    page.goto(f"{day.address}/c/{code(day, 'S-014')}")
    _press(page, "To the cart")
    _press(page, "Offloaded: copied to RAID and SHUTTLE")
    assert day.harbour.status("S-014") == "copied"
    _press(page, "Take this back")
    assert day.harbour.status("S-014") == "exposed"


def _press(page: Any, words: str) -> None:
    """Go to a button by keys, press Enter, and see what comes of it."""
    _tab_to(page, words)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def _tab_to(page: Any, words: str) -> None:
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText") == words:
            return
    raise AssertionError(f"no key leads to {words!r}")


def test_every_width_light_and_dark(day: Served) -> None:
    day.crew.lee.press(day.crew.lee.get(f"/c/{code(day, 'S-014')}"), "Into A as A001?")
    for path in ("/loader", f"/c/{code(day, 'S-014')}", f"/c/{code(day, 'S-015')}",
                 "/camera/A", "/several?card=S-015&card=S-016", "/c/2222"):  # fmt: skip
        for width in WIDTHS:
            page = day.look("Lee", path, width=width, dark=width in (390, 1440), touch=width < 700)
            holds(page, least=48 if width < 700 else 44)
            page.context.close()


def test_a_phones_page_is_light(day: Served) -> None:
    page = day.look(None, "/sign-in", touch=True)
    token = day.crew.tokens["Lee"]
    page.context.add_cookies([{"name": "cardwright", "value": token, "url": day.address}])
    loaded: list[int] = []
    page.on("response", lambda answer: loaded.append(len(answer.body())))
    for path in (f"/c/{code(day, 'S-014')}", "/camera/A", "/loader"):
        loaded.clear()
        page.goto(day.address + path, wait_until="networkidle")
        assert 1_000 < sum(loaded) < LIGHTEST_BYTES


def test_a_page_that_heard_nothing_for_two_minutes_gives_no_leave(day: Served) -> None:
    page = day.look(None, "/sign-in")
    token = day.crew.tokens["Lee"]
    page.context.add_cookies([{"name": "cardwright", "value": token, "url": day.address}])
    page.clock.install()
    page.goto(f"{day.address}/c/{code(day, 'S-014')}")
    page.get_by_text("may be formatted", exact=True).wait_for()
    page.route(re.compile("/changes"), lambda route: route.abort())
    page.clock.run_for(100_000)
    assert page.get_by_text("may be formatted", exact=True).is_visible()
    page.clock.run_for(40_000)
    page.get_by_text("ask the cart").wait_for()
    assert not page.get_by_text("may be formatted", exact=True).is_visible()
    # Neither in other words.
    said = page.locator("#main").inner_text().lower()
    for words in ("may be formatted", "cleared", "format it in the camera"):
        assert words not in said


def test_the_page_holds_still_and_says_that_something_was_logged(day: Served) -> None:
    page = day.look("Lee", f"/c/{code(day, 'S-014')}", touch=True)
    before = button(page, "Into A as A001?").bounding_box()
    day.crew.kim.press(day.crew.kim.get(f"/c/{code(day, 'S-015')}"), "Into B slot 1 as B001?")
    page.get_by_text("Something was logged since").wait_for()
    assert button(page, "Into A as A001?").bounding_box() == before
    with page.expect_navigation():
        page.get_by_role("link", name="Show it").tap()
    assert not page.get_by_text("Something was logged since").is_visible()


def test_a_page_that_hears_of_something_new_takes_its_leave_back_at_once(day: Served) -> None:
    page = day.look("Lee", "/loader", touch=True)
    page.clock.install()
    page.goto(f"{day.address}/c/{code(day, 'S-014')}")
    page.get_by_text("may be formatted", exact=True).wait_for()
    ticked = page.get_by_label("Formatted in that camera as it went in")
    assert ticked.is_checked()
    before = button(page, "Into A as A001?").bounding_box()
    acts_card.set_aside(day.harbour.service, KIM, "S-014", "bent pins")
    page.clock.run_for(6_000)
    page.get_by_text("ask the cart").wait_for()
    said = page.locator("#main").inner_text().lower()
    for words in ("may be formatted", "cleared", "format it in the camera"):
        assert words not in said
    assert button(page, "Into A as A001?").bounding_box() == before
    # It stays so: what was heard is not forgotten with the next answer.
    page.clock.run_for(60_000)
    assert page.get_by_text("ask the cart").is_visible()
    # Whoever taps all the same is asked.
    tap(page, "Into A as A001?")
    page.get_by_text("Something was logged about S-014 since this page was drawn.").wait_for()
    assert day.harbour.status("S-014") == "set aside"


def test_what_is_logged_about_another_card_takes_no_leave(day: Served) -> None:
    page = day.look("Lee", "/loader", touch=True)
    page.clock.install()
    page.goto(f"{day.address}/c/{code(day, 'S-014')}")
    acts_card.set_aside(day.harbour.service, KIM, "S-015", "bent pins")
    page.clock.run_for(6_000)
    page.get_by_text("Something was logged since").wait_for()
    assert page.get_by_text("may be formatted", exact=True).is_visible()
    tap(page, "Into A as A001?")
    assert day.harbour.status("S-014") == "loaded"


@pytest.mark.parametrize("script", [True, False])
def test_a_scan_never_presses_a_button(day: Served, script: bool) -> None:
    tap(day.look("Lee", f"/c/{code(day, 'S-014')}", touch=True), "Into A as A001?")
    count = day.harbour.count()
    for path in ("/camera/A", f"/c/{code(day, 'S-014')}", f"/c/{code(day, 'S-015')}"):
        for focused in ("input[name=when][value='5']", "input[name=unmounted]", "summary"):
            page = day.look("Lee", path, script=script)
            if not page.locator(focused).count():
                continue
            page.locator(focused).first.focus()
            page.keyboard.type("S-016")
            page.keyboard.press("Enter")
            if script:
                page.wait_for_url(f"**/c/{code(day, 'S-016')}*")
            page.context.close()
    assert day.harbour.count() == count


def test_a_scan_into_a_field_of_a_form_sends_nothing(day: Served) -> None:
    page = day.look("Lee", f"/c/{code(day, 'S-014')}")
    count = day.harbour.count()
    page.get_by_text("It is missing").click()
    page.get_by_label("Where was it seen last?").focus()
    page.keyboard.type("S-016")
    page.keyboard.press("Enter")
    page.get_by_text("Nobody knows where it is").wait_for()
    assert day.harbour.count() == count


def test_a_mistyped_scan_among_fast_ones_stays_in_sight(day: Served) -> None:
    page = day.look("Lee", "/several", width=360)
    page.locator("#code:focus").wait_for()
    for scanned in ("S-014", "S-099", "S-015", "S-016"):
        page.keyboard.type(scanned)
        page.keyboard.press("Enter")
    button(page, "All 3 go to the cart").wait_for()
    assert page.get_by_text("S-099").first.is_visible()


@pytest.mark.parametrize("script", [True, False])
def test_cards_are_scanned_one_after_the_other(day: Served, script: bool) -> None:
    page = day.look("Lee", "/several", width=360, script=script)
    page.locator("#code:focus").wait_for()
    for label in ("S-014", "S-015", "S-016"):
        page.keyboard.type(code(day, label))
        page.keyboard.press("Enter")
        if not script:
            page.get_by_role("link", name=f"Leave out {label}").wait_for()
            page.locator("#code:focus").wait_for()
    tap = button(page, "All 3 go to the cart")
    tap.wait_for()
    if script:
        assert page.url.endswith("/several?card=S-014&card=S-015&card=S-016")
    with page.expect_navigation():
        tap.click()
    assert day.harbour.facts("S-016")[-1].event == "handed_over"


def test_a_scan_that_nobody_answers_is_kept_and_goes_with_the_next(day: Served) -> None:
    page = day.look("Lee", "/several", width=360)
    page.locator("#code:focus").wait_for()
    page.route(re.compile("/several"), lambda route: route.abort())
    page.keyboard.type("S-014")
    page.keyboard.press("Enter")
    page.get_by_text("Not added yet, since the service did not answer: S-014").wait_for()
    page.unroute_all()
    page.keyboard.type("S-015")
    page.keyboard.press("Enter")
    button(page, "All 2 go to the cart").wait_for()
    assert not page.get_by_text("Not added yet").is_visible()
