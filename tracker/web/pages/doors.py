"""The doors: signing in and out, joining by an invitation, the one-time link of the set-up."""

from __future__ import annotations

from typing import Any

from flask import redirect, request, url_for
from werkzeug.wrappers import Response

from tracker.services import people, people_list
from tracker.services.passphrases import BadPassphrase, TooManyTries
from tracker.services.role_words import may_do
from tracker.web import forms, session
from tracker.web.guard import allowed, open_to_all
from tracker.web.look import page
from tracker.web.pages import pages

SPENT = 410
"""The status of a link that lets nobody in any more."""


@pages.get("/sign-in")
@open_to_all
def sign_in() -> Any:
    """The door."""
    return page("sign_in.html", wrong=None)


@pages.post("/sign-in")
@open_to_all
def sign_in_now() -> Any:
    """Begin a session."""
    name, passphrase = request.form.get("name", ""), request.form.get("passphrase", "")
    try:
        token = people.sign_in(session.service(), name, passphrase, _agent(), _address())
    except (BadPassphrase, TooManyTries) as error:
        status = 429 if isinstance(error, TooManyTries) else 403
        return page("sign_in.html", wrong=str(error), status=status)
    return session.begin(redirect(_next(), code=303), token)


@pages.post("/sign-out")
@allowed("mine")
def sign_out() -> Response:
    """End this session."""
    people.sign_out(session.service(), request.cookies.get(session.COOKIE, ""))
    return session.end(redirect(url_for("pages.sign_in"), code=303))


@pages.get("/join/<token>")
@open_to_all
def join(token: str) -> Any:
    """Who is invited by this link, and as what."""
    return _join(token, None)


@pages.post("/join/<token>")
@open_to_all
def join_now(token: str) -> Any:
    """Join, and begin a session in place of the one that was here."""
    service, before = session.service(), request.cookies.get(session.COOKIE, "")
    try:
        signed_in = people.accept(service, token, request.form.get("passphrase", ""), _agent())
    except (BadPassphrase, people.BadName) as error:
        return _join(token, str(error))
    except people.LinkSpent:
        return page("spent.html", status=SPENT)
    people.sign_out(service, before)
    return session.begin(redirect(url_for("pages.now"), code=303), signed_in)


def _join(token: str, wrong: str | None) -> Any:
    try:
        invited = people_list.invited_by(session.service(), token)
    except people.LinkSpent:
        return page("spent.html", status=SPENT)
    status = 200 if wrong is None else 400
    shown = {"token": token, "invited": invited, "wrong": wrong, "may_do": may_do(invited.role)}
    return page("join.html", status=status, **shown)


def _agent() -> str:
    return request.user_agent.string


def _address() -> str:
    return request.remote_addr or "unknown"


def _next() -> str:
    asked = request.form.get("next", "")
    return asked if forms.is_ours(asked) else url_for("pages.now")
