"""The web application: made by `create_app`; importing it starts nothing."""

from __future__ import annotations

from typing import Any, cast

from flask import Flask, Response, jsonify
from flask.json.provider import DefaultJSONProvider

from tracker.services.looking import answers
from tracker.services.service import Service
from tracker.web.api import api
from tracker.web.errors import answer_errors
from tracker.web.who import Tokens

LARGEST_BODY_BYTES = 16 * 2**20

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store",
}


def create_app(service: Service, tokens: Tokens) -> Flask:
    """The application on a service. tokens: finds whose a token is, and its scope."""
    app = Flask(__name__, static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY_BYTES
    # A label is what it is, with two slashes too.
    app.url_map.merge_slashes = False
    cast(DefaultJSONProvider, app.json).sort_keys = False
    app.extensions["cardwright.service"] = service
    app.extensions["cardwright.tokens"] = tokens
    app.register_blueprint(api, url_prefix="/api/v1")
    app.after_request(_secured)
    answer_errors(app)

    @app.get("/healthz")
    def healthz() -> tuple[Response, int]:
        """Whether the database answers; without signing in."""
        ok = answers(service)
        return jsonify({"ok": ok}), 200 if ok else 503

    return app


def _secured(response: Response) -> Any:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    return response
