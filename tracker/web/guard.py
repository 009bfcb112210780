"""Which right each address needs. An address that says nothing of it does not start the service.

Every view bears one mark: a scope of a token (`who.needs`), an action of the table of roles
(`allowed`), or that it is open to whoever is not signed in (`open_to_all`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from flask import Flask, current_app, request
from werkzeug.exceptions import Forbidden
from werkzeug.wrappers import Response

from tracker.services.roles import TABLE, may, who_may
from tracker.web import session

View = TypeVar("View", bound=Callable[..., Any])

MARK = "cardwright_needs"
OPEN = "open to all"
TOKEN = "a token"


def allowed(action: str) -> Callable[[View], View]:
    """Only whoever is signed in, and whose role may do that action, gets an answer."""
    if action not in TABLE:
        raise LookupError(f"no action is called {action!r}: give it a row in the table of roles")
    return mark(action)


def open_to_all(view: View) -> View:
    """Answered without signing in."""
    return mark(OPEN)(view)


def mark(needs: str) -> Callable[[View], View]:
    """Say of a view what it needs."""

    def marked(view: View) -> View:
        setattr(view, MARK, needs)
        return view

    return marked


def needed(app: Flask, endpoint: str) -> str | None:
    """What an address needs; None if nobody said."""
    view = app.view_functions[endpoint]
    return cast("str | None", getattr(view, MARK, None))


def guard(app: Flask) -> None:
    """Ask for what each address needs. Errors: LookupError for one that needs nothing known."""
    unsaid = sorted(name for name in app.view_functions if needed(app, name) is None)
    if unsaid:
        raise LookupError(f"nothing says who may come to: {', '.join(unsaid)}")
    app.before_request(_ask)


def _ask() -> Response | None:
    """Errors: Unauthorized, Forbidden."""
    if request.endpoint is None:
        return None
    needs = needed(current_app, request.endpoint)
    if needs in (OPEN, TOKEN):
        if needs == OPEN and request.method == "POST":
            session.from_here()
        return None
    person = session.person()
    if person is None:
        return session.ask_to_sign_in()
    if request.method == "POST":
        session.from_own_form()
    if needs is None:
        raise Forbidden("Nobody said who may do this.")
    if not may(person.role, needs):
        raise not_yours(person.role, needs)
    return None


def not_yours(role: str, action: str) -> Forbidden:
    """What is said to somebody whose role may not do that: whom to ask."""
    return Forbidden(f"Your role, {role}, may not do this. Ask {who_may(action)}.")
