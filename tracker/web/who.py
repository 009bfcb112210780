"""Who asks, by a bearer token, and what that token may do."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any, Protocol, TypeVar, cast

from flask import current_app, g, request
from werkzeug.datastructures import WWWAuthenticate
from werkzeug.exceptions import Forbidden, Unauthorized

from tracker.services.roles import OF_EVENT, may_log, who_may
from tracker.services.service import Who
from tracker.web.guard import TOKEN, mark

View = TypeVar("View", bound=Callable[..., Any])

SCOPES = ("calendar", "look", "log", "history")
"""What a token may do; each includes those before it."""


class Person(Protocol):
    """Whoever a token belongs to."""

    @property
    def id(self) -> str:
        """What the journal keeps."""
        ...

    @property
    def role(self) -> str:
        """What they may do goes by it."""
        ...

    @property
    def device(self) -> str | None:
        """The id of what they came in by."""
        ...


Tokens = Callable[[str], tuple[Any, str] | None]
"""The person that a token belongs to and the token's scope; None for one that is not valid."""


def needs(scope: str) -> Callable[[View], View]:
    """Answer only whoever signs in with a token of that scope: 401 or 403 otherwise."""

    def guarded(view: View) -> View:
        @wraps(view)
        def asked(*args: Any, **kwargs: Any) -> Any:
            sign_in()
            allow(scope)
            return view(*args, **kwargs)

        return cast(View, mark(TOKEN)(asked))

    return guarded


def sign_in() -> None:
    """Look up the token of this request. Errors: Unauthorized."""
    given = request.authorization
    if given is None or given.type != "bearer" or not given.token:
        raise _unknown("Sign in with a token: Authorization: Bearer TOKEN.")
    tokens: Tokens = current_app.extensions["cardwright.tokens"]
    found = tokens(given.token)
    if found is None:
        raise _unknown("This token is not valid, or not any more.", error="invalid_token")
    g.person, g.scope = found


def _unknown(says: str, **more: str) -> Unauthorized:
    asked = WWWAuthenticate("bearer", {"realm": "cardwright", **more})
    return Unauthorized(says, www_authenticate=asked)


def allow(scope: str) -> None:
    """Errors: Forbidden where the token of this request may not do that; it names the scope."""
    if SCOPES.index(g.scope) < SCOPES.index(scope):
        raise Forbidden(f"This token has the scope {g.scope}; here it needs {scope}.")


def allow_events(events: Iterable[object]) -> None:
    """Errors: Forbidden for the first event that the person's role may not log."""
    person: Person = g.person
    for event in events:
        if isinstance(event, str) and not may_log(person.role, event):
            asked = who_may(OF_EVENT[event])
            raise Forbidden(f"A {person.role} may not log {event}: ask {asked}.")


def who() -> Who:
    """Who says what this request says."""
    person: Person = g.person
    return Who(by=person.id, device=person.device)
