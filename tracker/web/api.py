"""The API for programs: facts in, what is true out. Every answer is JSON."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, current_app, jsonify, request
from werkzeug.exceptions import NotFound, UnsupportedMediaType

from tracker.services import looking, telling
from tracker.services.logging import Logged, Said, log_history, log_live
from tracker.services.service import Service
from tracker.web.guard import open_to_all
from tracker.web.openapi import document
from tracker.web.who import allow, allow_events, needs, who
from tracker.wire.faults import BadInput, Fault, shown
from tracker.wire.jsonlines import parse_json

api = Blueprint("api", __name__)


def _service() -> Service:
    service: Service = current_app.extensions["cardwright.service"]
    return service


@api.get("/openapi.json")
@open_to_all
def openapi() -> Response:
    """What this API takes and answers; without signing in."""
    return jsonify(document())


@api.post("/facts")
@needs("log")
def facts() -> tuple[Response, int]:
    """Take one fact, or a list of them, all or nothing."""
    history = _flag("history")
    if history:
        allow("history")
    body = _json()
    said = [Said(body)] if isinstance(body, dict) else _listed(body)
    if history:
        logged = log_history(_service(), said, who=who())
    else:
        allow_events(one.obj.get("event") for one in said)
        logged = log_live(_service(), said, who=who())
    results = _results(said, logged)
    told = results[0] if isinstance(body, dict) else {"facts": results}
    return jsonify(told), 201 if logged.new else 200


def _results(said: list[Said], logged: Logged) -> list[dict[str, str]]:
    """Each fact's id as it was sent, and whether it was logged now; once, if it is said twice."""
    new = {fact.id for fact in logged.new}
    results = []
    for one in said:
        fact_id = str(one.obj["id"]).lower()
        results.append({"id": one.obj["id"], "result": "logged" if fact_id in new else "again"})
        new.discard(fact_id)
    return results


def _flag(name: str) -> bool:
    value = request.args.get(name, "false")
    if value not in ("true", "false"):
        raise BadInput([Fault("", None, name, shown(value), "true or false")])
    return value == "true"


def _json() -> Any:
    """The body. Errors: UnsupportedMediaType, RequestEntityTooLarge, BadInput."""
    if request.mimetype != "application/json":
        raise UnsupportedMediaType
    raw = request.get_data()
    try:
        return parse_json(raw.decode("utf-8"))
    except UnicodeDecodeError as error:
        found = f"the byte {raw[error.start]:#04x} at place {error.start + 1}"
        raise BadInput([Fault("", None, None, found, "UTF-8")]) from None
    except ValueError as error:
        found, expected = error.args
        raise BadInput([Fault("", None, None, found, expected)]) from None


def _listed(body: Any) -> list[Said]:
    """The facts of a list; the first stands on line 1. Errors: BadInput."""
    if not isinstance(body, list):
        raise BadInput([Fault("", None, None, shown(body), "a fact as an object, or a list")])
    faults = [
        Fault("", line, None, shown(one), "a fact as an object")
        for line, one in enumerate(body, start=1)
        if not isinstance(one, dict)
    ]
    if faults:
        raise BadInput(faults)
    return [Said(one, line=line) for line, one in enumerate(body, start=1)]


def _name(asked: str) -> str:
    """A name that was asked for. Errors: NotFound where no name can be so."""
    if "\0" in asked:
        raise NotFound
    return asked


@api.get("/now")
@needs("look")
def now() -> Response:
    """What each card needs next, what went wrong, what is doubtful."""
    return jsonify(looking.now_for_programs(_service()))


@api.get("/cards")
@needs("look")
def cards() -> Response:
    """Every card as it stands."""
    return jsonify({"cards": looking.all_cards(_service())})


@api.get("/cards/<path:label>")
@needs("look")
def card(label: str) -> Response:
    """One card, with its history."""
    return jsonify(telling.one_card_for_programs(_service(), _name(label)))


@api.get("/cards/<path:label>/facts")
@needs("look")
def card_facts(label: str) -> Response:
    """What happened to a card, in sentences."""
    told = telling.one_card_for_programs(_service(), _name(label))
    return jsonify({"label": told["label"], "facts": told["history"]})


@api.get("/rolls")
@needs("look")
def rolls() -> Response:
    """Every roll, or those that answer to a name, each with its copies."""
    name = request.args.get("name")
    found = (
        looking.all_rolls(_service())
        if name is None
        else looking.rolls_by_name(_service(), _name(name))
    )
    return jsonify({"rolls": found})


@api.get("/drives")
@needs("look")
def drives() -> Response:
    """Every drive as it stands."""
    return jsonify({"drives": looking.all_drives(_service())})


@api.get("/drives/<path:label>")
@needs("look")
def drive(label: str) -> Response:
    """One drive, with the rolls on it."""
    return jsonify(looking.one_drive(_service(), _name(label)))


@api.get("/mishaps")
@needs("look")
def mishaps() -> Response:
    """Every mishap that stands."""
    return jsonify({"mishaps": looking.standing_mishaps(_service())})
