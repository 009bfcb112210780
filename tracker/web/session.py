"""Who is signed in, by the cookie of a browser; and whether a form came from a page of ours."""

from __future__ import annotations

import hashlib
import hmac
from urllib.parse import quote, urlsplit

from flask import current_app, g, redirect, request, url_for
from werkzeug.exceptions import Forbidden, Unauthorized
from werkzeug.wrappers import Response

from tracker.services import people
from tracker.services.people import SESSION_HOLDS, Person
from tracker.services.service import Service, Who

COOKIE = "cardwright"

NOT_OURS = (
    "This form did not come from a page of this visit. Nothing was logged: go back, load the page "
    "again, and say it once more."
)


def service() -> Service:
    """The running service."""
    found: Service = current_app.extensions["cardwright.service"]
    return found


def person() -> Person | None:
    """Who is signed in in this browser; None if nobody is."""
    if "signed_in" not in g:
        token = request.cookies.get(COOKIE)
        g.signed_in = people.session_of(service(), token) if token else None
    found: Person | None = g.signed_in
    return found


def signed_in() -> Person:
    """Who is signed in. Errors: Unauthorized."""
    found = person()
    if found is None:
        raise Unauthorized
    return found


def who() -> Who:
    """Who says what this form says."""
    found = signed_in()
    return Who(by=found.id, device=found.device)


def begin(answer: Response, token: str) -> Response:
    """Let a browser stay signed in."""
    answer.set_cookie(
        COOKIE,
        token,
        max_age=int(SESSION_HOLDS.total_seconds()),
        httponly=True,
        secure=request.is_secure,
        # Lax, since the link on a label is followed from outside.
        samesite="Lax",
    )
    return answer


def end(answer: Response) -> Response:
    """Forget who was signed in."""
    answer.delete_cookie(COOKIE, httponly=True, secure=request.is_secure, samesite="Lax")
    return answer


def form_key() -> str:
    """What each form of this visit carries: it follows from the session, and does not tell it."""
    token = request.cookies.get(COOKIE, "")
    return hmac.new(token.encode("utf-8", "replace"), b"form", hashlib.sha256).hexdigest()


def from_own_form() -> None:
    """Errors: Forbidden for a form that another site, or another visit, made."""
    from_here()
    given = request.form.get("form_key", "").encode("utf-8", "replace")
    if not hmac.compare_digest(given, form_key().encode()):
        raise Forbidden(NOT_OURS)


def from_here() -> None:
    """Errors: Forbidden for what a page of another site sent."""
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    origin = request.headers.get("Origin")
    elsewhere = origin is not None and urlsplit(origin).netloc != request.host
    if site not in ("same-origin", "none") or elsewhere:
        raise Forbidden(NOT_OURS)


def address() -> str:
    """The address of this request, as a link to it is written: a label may have a # in it."""
    query = request.query_string.decode("ascii", "replace")
    return quote(request.path) + (f"?{query}" if query else "")


def ask_to_sign_in() -> Response:
    """Lead to the door, and back again. Errors: Unauthorized for what cannot be said again."""
    if request.method == "GET":
        return redirect(url_for("pages.sign_in", next=address()), code=303)
    raise Unauthorized("You are signed out. Nothing was logged: sign in, and say it once more.")
