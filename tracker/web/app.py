"""The web application: made by `create_app`; importing it starts nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from flask import Flask, Response, jsonify
from flask.json.provider import DefaultJSONProvider

from tracker.reminders.notices import heartbeat
from tracker.services.looking import answers
from tracker.services.service import Service
from tracker.web import outgoing
from tracker.web.api import api
from tracker.web.errors import answer_errors
from tracker.web.guard import guard, open_to_all
from tracker.web.look import draw
from tracker.web.outgoing import Outgoing
from tracker.web.pages import (  # noqa: F401  (each adds its addresses)
    card,
    card_acts,
    doors,
    drives,
    figures,
    finding,
    loader,
    mine,
    morning,
    names,
    now,
    office,
    pages,
    people,
    reminders,
    set_up,
    taking_back,
    told_by,
)
from tracker.web.who import Tokens

LARGEST_BODY_BYTES = 16 * 2**20

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    # Nothing goes to other sites; our own forms must be able to say where they come from.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
    "Content-Security-Policy": "; ".join(
        (
            "default-src 'none'",
            "script-src 'self'",
            "style-src 'self'",
            "img-src 'self'",
            "connect-src 'self'",
            "form-action 'self'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
        )
    ),
    "Cache-Control": "no-store",
}
"""What every answer carries. No script and no style stands in a page, so none has to be allowed."""


def create_app(
    service: Service,
    tokens: Tokens,
    entrances: Mapping[str, str] | None = None,
    leaves: Outgoing | None = None,
) -> Flask:
    """The application on a service. tokens: finds whose a token is, and its scope.

    entrances: words of links that sign somebody in, each with the token of a session; for a demo.
    leaves: the channels by which reminders leave it; None: none do.
    """
    app = Flask(__name__, static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY_BYTES
    # A label is what it is, with two slashes too.
    app.url_map.merge_slashes = False
    cast(DefaultJSONProvider, app.json).sort_keys = False
    app.extensions["cardwright.service"] = service
    app.extensions["cardwright.tokens"] = tokens
    app.extensions["cardwright.entrances"] = dict(entrances or {})
    outgoing.keep(app.extensions, leaves)
    app.register_blueprint(api, url_prefix="/api/v1")
    app.register_blueprint(pages)
    draw(app)
    app.after_request(_secured)
    answer_errors(app)

    @app.get("/healthz")
    @open_to_all
    def healthz() -> tuple[Response, int]:
        """Whether the database answers and the clock runs; without signing in."""
        ok = answers(service) and _clock_runs(service)
        return jsonify({"ok": ok}), 200 if ok else 503

    guard(app)
    return app


def _clock_runs(service: Service) -> bool:
    """Whether the clock of the reminders ticks; where none was ever started, none stands still."""
    beat = heartbeat(service)
    return beat.last is None or beat.alive


def _secured(response: Response) -> Any:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    return response
