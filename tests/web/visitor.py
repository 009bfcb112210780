"""Somebody with a browser and no script: follows links, fills in forms, presses buttons."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from flask import Flask
from werkzeug.test import TestResponse

from tests.services.harbour import Harbour
from tracker.services import people
from tracker.services.service import Service
from tracker.web.session import COOKIE

NAMES = {
    "Kim": "data manager",
    "Lee": "loader",
    "Pat": "production office",
    "Ada": "administrator",
}


@dataclass
class Form:
    """A form as it stands on a page. buttons: their words."""

    action: str
    method: str
    fields: dict[str, Any] = field(default_factory=dict)
    buttons: list[str] = field(default_factory=list)
    named: dict[str, tuple[str, str]] = field(default_factory=dict)
    elsewhere: dict[str, str] = field(default_factory=dict)


INLINE = {"b", "a", "span", "strong", "em", "small", "time", "code", "i", "svg", "path", "circle"}
"""What stands within a line; anything else begins a new one."""


class Reading(HTMLParser):
    """Takes the words, the links and the forms of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.links: list[str] = []
        self.forms: list[Form] = []
        self._open: Form | None = None
        self._button: dict[str, str | None] | None = None
        self._label: list[str] = []
        self._select: str | None = None
        self._quiet = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self._apart(tag)
        if tag == "a" and given.get("href"):
            self.links.append(str(given["href"]))
        if tag in ("style", "script", "title"):
            self._quiet = True
        if tag == "form":
            self._open = Form(given.get("action") or "", given.get("method") or "get")
            self.forms.append(self._open)
        if self._open is None:
            return
        name = given.get("name")
        if tag == "input" and name:
            kind = given.get("type", "text")
            if kind not in ("radio", "checkbox") or "checked" in given:
                self._put(name, given.get("value") or ("on" if kind == "checkbox" else ""))
        if tag == "textarea" and name:
            self._put(name, "")
        if tag == "select" and name:
            self._select = name
        if tag == "option" and self._select:
            first = self._select not in self._open.fields
            if first or "selected" in given:
                self._open.fields[self._select] = given.get("value") or ""
        if tag == "button":
            self._button, self._label = given, []

    def _put(self, name: str, value: str) -> None:
        assert self._open is not None
        known = self._open.fields.get(name)
        if known is None:
            self._open.fields[name] = value
        else:
            self._open.fields[name] = [*known, value] if isinstance(known, list) else [known, value]

    def _apart(self, tag: str) -> None:
        if tag not in INLINE:
            self.words.append(" ")

    def handle_endtag(self, tag: str) -> None:
        self._apart(tag)
        if tag in ("style", "script", "title"):
            self._quiet = False
        if tag == "select":
            self._select = None
        if tag == "button" and self._button is not None and self._open is not None:
            says = " ".join("".join(self._label).split())
            self._open.buttons.append(says)
            if self._button.get("formaction"):
                self._open.elsewhere[says] = str(self._button["formaction"])
            if self._button.get("name"):
                self._open.named[says] = (
                    str(self._button["name"]),
                    self._button.get("value") or "",
                )
            self._button = None
        if tag == "form":
            self._open = None

    def handle_data(self, data: str) -> None:
        if self._button is not None:
            self._label.append(data)
        if not self._quiet:
            self.words.append(data)


@dataclass
class Page:
    """What somebody sees."""

    answer: TestResponse
    read: Reading

    @property
    def says(self) -> str:
        """All words, with one space between them."""
        return " ".join("".join(self.read.words).split())

    @property
    def status(self) -> int:
        return self.answer.status_code

    @property
    def buttons(self) -> list[str]:
        return [words for form in self.read.forms for words in form.buttons]

    def form(self, button: str) -> Form:
        """The form with a button that has these words."""
        found = [form for form in self.read.forms if button in form.buttons]
        assert found, f"no button {button!r}; there are {self.buttons}"
        return found[0]


class Visitor:
    """One person's browser."""

    def __init__(self, app: Flask, token: str | None = None) -> None:
        self.client = app.test_client()
        self.at = "/"
        if token:
            self.client.set_cookie(COOKIE, token)

    def get(self, path: str) -> Page:
        """Open an address, as a browser does: it follows where it is led."""
        answer = self.client.get(path, follow_redirects=True)
        self.at = answer.request.full_path.rstrip("?")
        return self._page(answer)

    def press(self, page: Page, button: str, **typed: Any) -> Page:
        """Fill in the form of a button, and press it. A field that is None is left out."""
        form = page.form(button)
        fields = {**form.fields, **typed}
        if button in form.named:
            name, value = form.named[button]
            fields[name] = value
        action = form.elsewhere.get(button, form.action)
        return self.send(action, {k: v for k, v in fields.items() if v is not None})

    def send(self, action: str, fields: dict[str, Any]) -> Page:
        """Send a form as it is."""
        answer = self.client.post(
            action, data=fields, follow_redirects=True, content_type="multipart/form-data"
        )
        self.at = answer.request.full_path.rstrip("?")
        return self._page(answer)

    def _page(self, answer: TestResponse) -> Page:
        read = Reading()
        if answer.mimetype == "text/html":
            read.feed(answer.text)
        return Page(answer, read)


def token_for(service: Service, name: str, role: str) -> str:
    """The token of a session of somebody who is made to belong here."""
    return people.let_in(service, name, role, "a browser of a test")


@dataclass
class Crew:
    """The people of Harbour, each with a browser: Kim, Lee, Pat and Ada."""

    harbour: Harbour
    app: Flask

    def __post_init__(self) -> None:
        service = self.harbour.service
        self.tokens = {name: token_for(service, name, role) for name, role in NAMES.items()}
        self.kim, self.lee, self.pat, self.ada = (
            Visitor(self.app, token) for token in self.tokens.values()
        )
        self.nobody = Visitor(self.app)
