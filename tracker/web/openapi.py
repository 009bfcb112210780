"""The description of the API in OpenAPI 3.1, made from the fields that the wire knows.

`python -m tracker.web.openapi` writes it anew into `tracker/web/openapi.json`.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from tracker.domain.facts import Fact
from tracker.web.openapi_answers import ANSWERS, ref
from tracker.wire import values
from tracker.wire.fields import SERVER_ONLY, SHAPES, Field, Shape, subject_of

FILE = Path(__file__).with_name("openapi.json")

Schema = dict[str, Any]

ERRORS = {
    400: "Malformed: every fault is named.",
    401: "Nobody is signed in, or the token is not valid.",
    403: "The token may not do that; the message names the scope that is missing.",
    404: "A card, camera, drive or roll that nobody registered, with the nearest names.",
    409: "Permission is refused, each reason a detail; or a label is on another card.",
    413: "The body is larger than 16 MiB.",
    415: "The body is not JSON.",
    422: "The id was said before, with another body.",
    500: "Something went wrong in the service.",
    503: "The data cannot be used now, as on a full disk: send it again later.",
}


@cache
def document() -> Schema:
    """The whole description."""
    facts = {_name(kind): _fact(shape) for kind, shape in SHAPES.items()}
    every = {"anyOf": [ref(name) for name in facts], "title": "A fact"}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Cardwright",
            "version": version("cardwright"),
            "description": "Facts about camera cards in; what each card needs next out.",
        },
        "servers": [{"url": "/"}],
        "security": [{"token": []}],
        "paths": _paths(),
        "components": {
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
            "schemas": {**facts, "Fact": every, **ANSWERS},
        },
    }


def written() -> str:
    """The description as it lies in the tree."""
    return json.dumps(document(), indent=1, ensure_ascii=False) + "\n"


def _name(kind: type[Fact]) -> str:
    subject = subject_of(kind)
    return f"voided_{subject or 'production'}" if kind.event == "voided" else kind.event


def _fact(shape: Shape) -> Schema:
    """One event as a sender gives it."""
    fields = {f.word: _field(f) for f in shape.fields if f.word not in SERVER_ONLY}
    return {
        "type": "object",
        "properties": {
            "event": {"const": shape.fact.event},
            **fields,
            "sent_at": _of_sort(values.TIME),
        },
        "required": sorted(shape.required),
        "additionalProperties": False,
    }


def _field(field: Field) -> Schema:
    told = _of_kind(field)
    return {**told, "description": field.sort.expected}


def _of_kind(field: Field) -> Schema:
    if get_origin(field.kind) is Literal:
        return {"enum": list(get_args(field.kind))}
    if get_origin(field.kind) is tuple:
        if field.sort is values.LINES:
            line = {"type": "object", "required": ["card", "camera"]}
            named = {"card": _of_sort(values.LABEL), "camera": _of_sort(values.LABEL)}
            return {"type": "array", "items": {**line, "properties": named}}
        return {"type": "array", "items": _of_sort(values.LABEL)}
    if field.kind is int:
        digits = {"type": "string", "pattern": "^[1-9][0-9]{15,18}$"}
        whole = {"type": "integer", "minimum": 0, "maximum": values.SAFE_INTEGER}
        return {"anyOf": [whole, digits]}
    if field.kind is float:
        return {"type": "number"}
    return _of_sort(field.sort)


def _of_sort(sort: values.Sort) -> Schema:
    known: dict[values.Sort, Schema] = {
        values.LABEL: {"type": "string", "minLength": 1, "maxLength": values.LONGEST_LABEL},
        values.TEXT: {"type": "string", "minLength": 1, "maxLength": values.LONGEST_TEXT},
        values.UUID: {"type": "string", "format": "uuid"},
        values.SHA256: {"type": "string", "pattern": "^[0-9a-f]{64}$"},
        values.TIME: {"type": "string", "format": "date-time"},
        values.BOOLEAN: {"type": "boolean"},
    }
    return known[sort]


def _paths() -> Schema:
    label = {"name": "label", "in": "path", "required": True, "schema": {"type": "string"}}
    name = {"name": "name", "in": "query", "schema": {"type": "string"}}
    return {
        "/api/v1/facts": {"post": _log()},
        "/api/v1/now": _get("What each card needs next, and what went wrong.", "Now"),
        "/api/v1/cards": _get("Every card as it stands.", "Cards"),
        "/api/v1/cards/{label}": _get("One card, with its history.", "Card", label),
        "/api/v1/cards/{label}/facts": _get("What happened to a card.", "CardFacts", label),
        "/api/v1/rolls": _get("Every roll, or those of a name, with copies.", "Rolls", name),
        "/api/v1/drives": _get("Every drive as it stands.", "Drives"),
        "/api/v1/drives/{label}": _get("One drive, with the rolls on it.", "Drive", label),
        "/api/v1/mishaps": _get("Every mishap that stands.", "Mishaps"),
        "/api/v1/openapi.json": _open("This description.", {"200": {"type": "object"}}),
        "/healthz": _open(
            "Whether the database answers, and the clock of the reminders runs.",
            {"200": ref("Health"), "503": ref("Health")},
        ),
    }


def _log() -> Schema:
    history = {
        "name": "history",
        "in": "query",
        "description": "Take it as history, as fact throughout: it needs the scope history.",
        "schema": {"enum": ["true", "false"], "default": "false"},
    }
    many = {"type": "array", "items": ref("Fact")}
    told = {"anyOf": [ref("Result"), ref("Results")]}
    return {
        "summary": "Log one fact, or a list of them, all or nothing. Scope: log.",
        "parameters": [history],
        "requestBody": {"required": True, "content": _json({"anyOf": [ref("Fact"), many]})},
        "responses": {
            "201": {"description": "Logged: something was new.", "content": _json(told)},
            "200": {"description": "All of it was said before.", "content": _json(told)},
            **_errors(400, 401, 403, 404, 409, 413, 415, 422, 500, 503),
        },
    }


def _get(summary: str, answer: str, *parameters: Schema) -> Schema:
    missing = (404,) if parameters else ()
    return {
        "get": {
            "summary": f"{summary} Scope: look.",
            "parameters": list(parameters),
            "responses": {
                "200": {"description": summary, "content": _json(ref(answer))},
                **_errors(401, 403, *missing, 500, 503),
            },
        }
    }


def _open(summary: str, answers: dict[str, Schema]) -> Schema:
    told = {
        status: {"description": summary, "content": _json(schema)}
        for status, schema in answers.items()
    }
    responses = {**told, **_errors(500)}
    return {"get": {"summary": summary, "security": [], "responses": responses}}


def _errors(*statuses: int) -> Schema:
    return {
        str(status): {"description": ERRORS[status], "content": _json(ref("Error"))}
        for status in statuses
    }


def _json(schema: Schema) -> Schema:
    return {"application/json": {"schema": schema}}


if __name__ == "__main__":
    FILE.write_text(written(), encoding="utf-8")
