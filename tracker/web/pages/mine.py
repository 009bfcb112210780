"""One's own page: where one is signed in, one's passphrase, one's tokens for programs."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from flask import redirect, request, url_for
from werkzeug.wrappers import Response

from tracker.domain.errors import CardwrightError
from tracker.services import people, people_list
from tracker.services.passphrases import BadPassphrase, TooManyTries
from tracker.services.people import BadName, NotAllowed, Scope
from tracker.services.role_words import may_do
from tracker.services.roles import may
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.wire.faults import BadInput

MOST_DAYS = 3650

FOR_PROGRAMS: tuple[Scope, ...] = ("look", "log", "history")
"""Scopes of tokens that are made here; a calendar gets its link where one says how one is told."""

DONE = {
    "ended": "That device is signed out.",
    "others": "You are signed out everywhere but here.",
    "changed": "Your passphrase was changed, and you are signed out everywhere but here.",
    "revoked": "The token was revoked: it lets nothing in any more.",
}


@pages.get("/me")
@allowed("mine")
def me() -> Any:
    """Who I am here, and where."""
    return _me(None)


def _me(wrong: CardwrightError | None, status: int = 400) -> Any:
    service, person = session.service(), session.signed_in()
    return page(
        "me.html",
        status=200 if wrong is None else status,
        me=person,
        wrong=None if wrong is None else str(wrong),
        done_words=DONE,
        may_do=may_do(person.role),
        sessions=people.sessions(service, person),
        has_passphrase=people_list.has_passphrase(service, person),
        tokens=people_list.tokens(service, person),
        scopes=[one for one in FOR_PROGRAMS if one != "history" or may(person.role, "history")],
    )


@pages.post("/me/sessions/end")
@allowed("mine")
def end_my_session() -> Response:
    """I am signed out on one of my devices."""
    service, person = session.service(), session.signed_in()
    device = forms.text("device", needed=True) or ""
    if device not in {one.device for one in people.sessions(service, person)}:
        raise forms.fault("device", device, "a device on which you are signed in")
    people.revoke_session(service, person, device)
    if device == person.device:
        return session.end(redirect(url_for("pages.sign_in"), code=303))
    return _back("ended")


@pages.post("/me/sessions/end-others")
@allowed("mine")
def end_my_others() -> Response:
    """I am signed out everywhere but here."""
    people.revoke_others(session.service(), session.signed_in())
    return _back("others")


@pages.post("/me/passphrase")
@allowed("mine")
def change_passphrase() -> Any:
    """Another passphrase, by the one that I have."""
    old, new = request.form.get("old", ""), request.form.get("new", "")
    address = request.remote_addr or "unknown"
    try:
        people.change_passphrase(session.service(), session.signed_in(), old, new, address)
    except BadPassphrase as error:
        return _me(error)
    except TooManyTries as error:
        return _me(error, 429)
    return _back("changed")


@pages.get("/tokens")
@allowed("token")
def my_tokens() -> Response:
    """They stand on one's own page."""
    return redirect(url_for("pages.me") + "#tokens", code=303)


@pages.post("/tokens")
@allowed("token")
def make_token() -> Any:
    """A token by which a program acts for me; it is shown once."""
    service, person = session.service(), session.signed_in()
    try:
        name, scope, days = forms.text("name", needed=True) or "", _scope(), _days()
        until = None if days is None else service.clock() + timedelta(days=days)
        token = people.make_token(service, person, name, scope, until)
    except (BadName, BadInput) as error:
        return _me(error)
    except NotAllowed as error:
        return _me(error, 403)
    return page("token_made.html", token=token, name=name, scope=scope, until=until)


@pages.post("/tokens/revoke")
@allowed("token")
def revoke_token() -> Response:
    """A token lets nothing in any more."""
    service, person = session.service(), session.signed_in()
    people.revoke_token(service, person, forms.text("token", needed=True) or "")
    at = forms.back("/me")
    to = "pages.people" if at.startswith("/people") else "pages.me"
    return redirect(url_for(to, done="revoked"), code=303)


def _scope() -> Scope:
    scopes: dict[str, Scope] = {scope: scope for scope in FOR_PROGRAMS}
    given = request.form.get("scope", "")
    if given not in scopes:
        raise forms.fault("scope", given or "nothing", f"one of: {', '.join(scopes)}")
    return scopes[given]


def _days() -> int | None:
    days = forms.number("days")
    if days is not None and not 1 <= days <= MOST_DAYS:
        raise forms.fault("days", str(days), f"1 to {MOST_DAYS} days")
    return days


def _back(done: str) -> Response:
    return redirect(url_for("pages.me", done=done), code=303)
