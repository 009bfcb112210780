"""Now and Find in a browser: fit for a phone and a cart, by keyboard alone, small."""

from __future__ import annotations

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tests.services.harbour import GB, KIM, LEE
from tracker.services import acts_camera as camera
from tracker.services import acts_card as card

LARGEST_BYTES = 60_000


def happen(served: Served) -> None:
    """A danger, a doubt, a missing card and sixty more."""
    service, clock = served.harbour.service, served.harbour.clock
    camera.load(service, LEE, "S-014", "A", roll="A001", formatted=True)
    camera.load(service, LEE, "S-015", "B", roll="B001", formatted=True)
    clock.wait(60)
    camera.pull(service, LEE, "S-014", bytes_=480 * GB)
    camera.pull(service, LEE, "S-015", bytes_=300 * GB)
    clock.wait()
    camera.format_in_camera(service, LEE, "S-014", camera="A")
    card.report_missing(service, LEE, "S-015")
    camera.load(service, LEE, "S-016", "A", roll="A002", formatted=True)
    clock.wait()
    camera.load(service, LEE, "S-014", "A", roll="A003", formatted=True)
    for number in range(60):
        label = f"LONG-LABEL-OF-A-CARD-{number:03}"
        card.register_card(service, KIM, label, "2.5in SSD", 1_000 * GB, case="yellow")
    clock.wait()


def test_now_and_find_hold_at_every_width_light_and_dark(served: Served) -> None:
    happen(served)
    for number, width in enumerate(WIDTHS):
        for path in ("/now", "/now?status=unseen&case=yellow", "/now?show=below", "/find?q=LONG"):
            page = served.look("Lee", path, width=width, dark=number % 2 == 1)
            holds(page, least=48 if width < 768 else 44)
            page.context.close()
    for path in ("/now?show=warnings", "/find?q=a001", "/find"):
        page = served.look("Kim", path, width=360)
        holds(page)
        page.context.close()


def test_the_phone_gets_it_all_in_sixty_kilobytes(served: Served) -> None:
    happen(served)
    page = served.look("Lee", "/find")
    sizes: list[int] = []
    page.on("response", lambda answer: sizes.append(len(answer.body())))
    page.goto(served.address + "/now")
    page.wait_for_load_state("networkidle")
    assert "Danger: 2" in page.inner_text("main")
    told = page.request.get(served.address + "/static/look.css")
    assert 0 < sum(sizes) + len(told.body()) < LARGEST_BYTES, sizes


def test_by_keyboard_alone_from_now_to_a_list_and_to_what_a_scanner_types(served: Served) -> None:
    happen(served)
    page = served.look("Kim", "/now", width=390)
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText").startswith("unseen"):
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/now?status=unseen*")
    assert "Status: unseen" in page.inner_text("main")
    # A hand scanner types where the cursor is nowhere.
    page.keyboard.type("long-label-of-a-card-04")
    page.keyboard.press("Enter")
    page.wait_for_url("**/find?q=*")
    assert "The nearest:" in page.inner_text("main")
    assert "LONG-LABEL-OF-A-CARD-040" in page.inner_text("main")


def test_without_script_cards_are_asked_for_by_a_form(served: Served) -> None:
    happen(served)
    page = served.look("Kim", "/now", width=360, script=False)
    page.locator("summary").press("Enter")
    page.get_by_label("Camera").select_option("A")
    page.get_by_role("button", name="Show these").press("Enter")
    page.wait_for_url("**/now?*camera=A*")
    assert "Camera: A" in page.inner_text("main")
    assert "S-016" in page.inner_text("table")
