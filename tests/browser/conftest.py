"""A real browser, on a real server, on a real database: Chromium, as the system has it.

Elsewhere these tests are skipped with the reason; where the gate runs, nothing skips.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from flask import Flask
from waitress import create_server

from tests.services.harbour import Clock, Harbour, begin
from tests.web.visitor import Crew
from tracker.store.engine import Store
from tracker.web.app import create_app
from tracker.web.session import COOKIE

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
WIDTHS = (360, 390, 768, 1440)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if CHROMIUM is None and os.environ.get("CI") != "true":
        no = pytest.mark.skip(reason="there is no Chromium on the path: apt-get install chromium")
        for item in items:
            if "tests/browser" in str(item.path):
                item.add_marker(no)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Chromium, started once."""
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        yield browser
        browser.close()


@dataclass
class Served:
    """Harbour, served. look: opens a page as somebody, at a width."""

    crew: Crew
    address: str
    chromium: Any
    opened: list[Any]

    @property
    def harbour(self) -> Harbour:
        return self.crew.harbour

    def look(
        self,
        name: str | None,
        path: str,
        *,
        width: int = 390,
        dark: bool = False,
        script: bool = True,
        touch: bool = False,
    ) -> Any:
        """The page of an address, as somebody sees it; name: of the cast, None for nobody."""
        context = self.chromium.new_context(
            viewport={"width": width, "height": 900},
            color_scheme="dark" if dark else "light",
            java_script_enabled=script,
            has_touch=touch,
            is_mobile=touch,
        )
        context.set_default_timeout(15_000)
        self.opened.append(context)
        if name is not None:
            token = self.crew.tokens[name]
            context.add_cookies([{"name": COOKIE, "value": token, "url": self.address}])
        page = context.new_page()
        page.goto(self.address + path)
        return page


def serve(app: Flask) -> tuple[Any, str]:
    """Start a server of a test; its address."""
    server = create_server(app, host="127.0.0.1", port=0, threads=6)
    threading.Thread(target=server.run, daemon=True).start()
    return server, f"http://127.0.0.1:{server.effective_port}"


@pytest.fixture
def served(new_store: Callable[..., Store], chromium: Any) -> Iterator[Served]:
    """Harbour on its first morning, served for real."""
    harbour = begin(new_store("sqlite"), Clock())
    app = create_app(harbour.service, {}.get)
    crew = Crew(harbour, app)
    server, address = serve(app)
    told = Served(crew, address, chromium, [])
    yield told
    for context in told.opened:
        context.close()
    server.task_dispatcher.shutdown(timeout=5)
    server.close()
