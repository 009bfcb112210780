"""The description of the API is true: no drift, a valid document, answers as it says."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from openapi_spec_validator import OpenAPIV31SpecValidator, validate
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.services.harbour import Clock, begin
from tests.web.conftest import Web
from tests.web.test_logging import LOADED, PULLED
from tracker.store.engine import Store
from tracker.web.openapi import FILE, document, written
from tracker.wire.fields import EVENTS

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


def test_the_description_in_the_tree_is_what_the_code_says() -> None:
    assert FILE.read_text(encoding="utf-8") == written(), (
        "the API is another one now: if that is meant, write its description anew with "
        "`python -m tracker.web.openapi`, and commit it"
    )


def test_it_is_a_valid_description() -> None:
    validate(json.loads(written()), cls=OpenAPIV31SpecValidator)


def test_every_event_is_described(web: Web) -> None:
    told = web.client.get("/api/v1/openapi.json")
    assert (told.status_code, told.json) == (200, document())
    schemas = document()["components"]["schemas"]
    described = {s["properties"]["event"]["const"] for s in map(_fact, schemas.values()) if s}
    assert described == set(EVENTS)


def _fact(schema: dict[str, Any]) -> dict[str, Any] | None:
    return schema if "event" in schema.get("properties", {}) and "sent_at" in str(schema) else None


def test_whatever_is_asked_the_answer_is_one_that_is_described(
    new_store: Callable[..., Store],
) -> None:
    web = Web(begin(new_store("sqlite"), Clock()))
    web.post([LOADED, PULLED])
    api = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", web.app)
    asked = st.one_of(*(found.ok().as_strategy() for found in api.get_all_operations()))

    @settings(
        max_examples=150,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=asked)
    def tried(case: Any) -> None:
        case.call_and_validate(checks=CHECKS, headers={"Authorization": "Bearer token-to-history"})

    tried()
