"""Every error in one shape, from one place: what went wrong, and what to do. No traces.

`{"error": {"code", "message", "details": [{"line"?, "field"?, "message"}]}}`
"""

from __future__ import annotations

from typing import Any

from flask import (
    Flask,
    Response,
    current_app,
    jsonify,
    make_response,
    render_template,
    request,
    url_for,
)
from werkzeug.exceptions import HTTPException

from tracker.domain.errors import CardwrightError, LabelInUse, UnknownLabel
from tracker.services.errors import Conflict, Refused
from tracker.services.people import NotAllowed
from tracker.store.engine import CannotUse, in_words
from tracker.web import forms
from tracker.wire.faults import BadInput, Fault

Detail = dict[str, Any]

ANSWERS: dict[type[CardwrightError], tuple[int, str]] = {
    BadInput: (400, "bad_input"),
    NotAllowed: (403, "not_allowed"),
    UnknownLabel: (404, "unknown_label"),
    LabelInUse: (409, "label_in_use"),
    Refused: (409, "refused"),
    Conflict: (422, "conflict"),
}
"""The status and the code of each error; any other of ours is 400."""

HTTP: dict[int, tuple[str, str | None]] = {
    401: ("not_signed_in", None),
    403: ("not_allowed", None),
    404: ("not_found", "There is nothing at this address."),
    405: ("method_not_allowed", "This address does not take that method."),
    413: ("too_large", "The body is too large: send at most 16 MiB, in several pieces."),
    415: ("not_json", "Send JSON, with Content-Type: application/json."),
    500: ("internal", "Something went wrong here, not with what you sent. Try again."),
}
"""The code and the words for what the framework answers; None: as the error says itself."""


def answer_errors(app: Flask) -> None:
    """Let an app answer every error so."""
    app.register_error_handler(CardwrightError, _ours)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(CannotUse, _database)


HEADINGS = {
    400: "That cannot be taken",
    401: "You are signed out",
    403: "Not yours to do",
    404: "Not here",
    405: "Not that way",
    409: "Not now",
    413: "Too large",
    422: "Said before, in other words",
    500: "Something went wrong here",
    503: "The data cannot be used now",
}
"""What stands at the top of a page that says what went wrong."""


TOO_MUCH = (
    "More was sent than is taken at once, and nothing was logged. Go back, and send less: of "
    "photographs at most 4, of at most 12 MB each."
)


def _shape(status: int, code: str, message: str, details: list[Detail]) -> Response:
    if not request.path.startswith("/api/"):
        return _page(status, message, details)
    response = jsonify({"error": {"code": code, "message": message, "details": details}})
    response.status_code = status
    return response


def _page(status: int, message: str, details: list[Detail]) -> Response:
    """The same for people. A fault of our own is told without asking the database again."""
    heading = HEADINGS.get(status, "That did not work")
    if status == 413:
        # What was sent cannot be read, so that no page can be drawn that keeps it.
        response = make_response(f"{heading}. {TOO_MUCH}")
        response.mimetype = "text/plain"
    elif status >= 500:
        response = make_response(f"{heading}. {message}")
        response.mimetype = "text/plain"
    else:
        shown = {"heading": heading, "message": message, "details": details}
        again = forms.back("") or None
        door = url_for("pages.sign_in", next=again) if status == 401 else None
        answer = render_template("error.html", **shown, again=again, door=door)
        response = make_response(answer)
    response.status_code = status
    return response


def _ours(error: CardwrightError) -> Response:
    kinds = [kind for kind in type(error).__mro__ if kind in ANSWERS]
    status, code = ANSWERS[kinds[0]] if kinds else (400, "bad_request")
    return _shape(status, code, _message(error), _details(error))


def _message(error: CardwrightError) -> str:
    if isinstance(error, BadInput):
        count = len(error.faults)
        return f"{count} {'fault' if count == 1 else 'faults'}; nothing was logged."
    says = str(error)
    return says[:1].upper() + says[1:] + ("" if says.endswith(".") else ".")


def _details(error: CardwrightError) -> list[Detail]:
    if isinstance(error, BadInput):
        return [_fault(fault) for fault in error.faults]
    if isinstance(error, Refused):
        return [{"message": f"{reason.says}: {reason.settles}"} for reason in error.reasons]
    if isinstance(error, UnknownLabel):
        return [{"field": error.kind, "message": _found(error.found, error.expected)}]
    if isinstance(error, LabelInUse):
        return [{"message": _found(error.found, error.expected)}]
    if isinstance(error, Conflict):
        return [{"field": "id", "message": str(error)}]
    return []


def _fault(fault: Fault) -> Detail:
    detail: Detail = {} if fault.line is None else {"line": fault.line}
    if fault.field is not None:
        detail["field"] = fault.field
    return {**detail, "message": _found(fault.found, fault.expected)}


def _found(found: str, expected: str) -> str:
    return f"found {found}, expected {expected}"


def _database(error: CannotUse) -> Response:
    """The disk is full, the server is gone: nobody who asks is at fault, and waiting may help."""
    current_app.logger.error("the database failed: %s", error.orig)
    found, advice = in_words(error)
    message = (
        f"The data cannot be used now: {found}; {advice}. What you sent was not acknowledged: "
        "send it again."
    )
    return _shape(503, "database", message, [])


def _http(error: HTTPException) -> Response:
    status = error.code or 500
    code, says = HTTP.get(status, ("bad_request", None))
    response = _shape(status, code, says or str(error.description), [])
    for name, value in error.get_headers():
        if name.lower() not in ("content-type", "content-length"):
            response.headers[name] = value
    return response
