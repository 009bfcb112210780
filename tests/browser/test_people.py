"""People, Me and the doors in a real browser: at every width, in both lights, without a mouse."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tracker.services import passphrases, people

GOOD = "tide turns at noon"


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passphrases, "HASHER", hasher)


def link_for(served: Served, name: str) -> str:
    service = served.harbour.service
    ada = people.session_of(service, served.crew.tokens["Ada"])
    assert ada
    return people.invite(service, ada, "loader", name)


@pytest.mark.parametrize("dark", [False, True])
def test_the_pages_are_fit_at_every_width(served: Served, dark: bool) -> None:
    token = link_for(served, "Noor")
    lee = served.crew.ada.get("/people").read.links
    out = next(link for link in lee if link.endswith("/out"))
    pages = (
        ("Ada", "/people"),
        ("Ada", out.removesuffix("/out")),
        ("Ada", out),
        ("Kim", "/me"),
        (None, f"/join/{token}"),
        (None, "/join/spent"),
        (None, "/sign-in"),
    )
    for name, path in pages:
        page = served.look(name, path, dark=dark)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            holds(page, least=48 if width < 768 else 44)


def test_ada_invites_by_keyboard_and_noor_joins_by_keyboard(served: Served) -> None:
    page = served.look("Ada", "/people")
    page.locator("#name").focus()
    page.keyboard.type("Noor")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_selector("#link")
    holds(page)
    link = page.locator("#link").inner_text()
    # Its code is drawn by attributes: the page's own rules refuse styles.
    assert page.locator(".qr svg").bounding_box()["width"] > 200

    joining = served.look(None, link.removeprefix(served.address), script=False)
    joining.locator("#passphrase").focus()
    joining.keyboard.type(GOOD)
    with joining.expect_navigation():
        joining.keyboard.press("Enter")
    joining.goto(f"{served.address}/me")
    assert "Your role is loader." in joining.locator("main").inner_text()
