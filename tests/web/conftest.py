"""Harbour over HTTP, on both databases, with one token for each scope."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.services.harbour import Clock, Harbour, begin
from tests.web.visitor import Crew
from tracker.store.engine import Store
from tracker.web.app import create_app


@dataclass(frozen=True)
class Someone:
    id: str
    name: str
    role: str
    device: str


KIM = Someone("kim", "Kim", "administrator", "laptop")
TOKENS = {f"token-to-{scope}": (KIM, scope) for scope in ("look", "log", "history")}


@dataclass
class Web:
    """What a program sees of Harbour."""

    harbour: Harbour

    def __post_init__(self) -> None:
        self.app = create_app(self.harbour.service, TOKENS.get)
        self.client = self.app.test_client()

    def get(self, path: str, scope: str = "look") -> TestResponse:
        headers = {"Authorization": f"Bearer token-to-{scope}"}
        return self.client.get(f"/api/v1/{path}", headers=headers)

    def told(self, path: str) -> Any:
        """The body of an answer that must be fine."""
        answer = self.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json

    def post(self, body: Any, scope: str = "log", *, query: str = "", **headers: str) -> Any:
        """POST facts: as JSON, or bytes as they are."""
        data = body if isinstance(body, bytes) else json.dumps(body)
        sent = {
            "Authorization": f"Bearer token-to-{scope}",
            "Content-Type": "application/json",
            **headers,
        }
        return self.client.post(f"/api/v1/facts{query}", data=data, headers=sent)


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, new_store: Callable[..., Store]) -> Store:
    return new_store(request.param)


@pytest.fixture
def web(store: Store) -> Web:
    return Web(begin(store, Clock()))


def fact(number: int, event: str, at: str = "08:00", **fields: Any) -> dict[str, Any]:
    """A fact of 2 March 2026, of card S-014 unless something else is named."""
    named = {"card", "drive", "unit", "letters", "copies"} & fields.keys()
    subject = {} if named and not event.startswith("copy_") else {"card": "S-014"}
    return {
        "id": f"00000000-0000-4000-8000-{number:012d}",
        "event": event,
        **subject,
        "occurred_at": f"2026-03-02T{at}:00+00:00",
        **fields,
    }


@pytest.fixture
def crew(new_store: Callable[..., Store]) -> Crew:
    """The people of Harbour, at its pages."""
    harbour = begin(new_store("sqlite"), Clock())
    return Crew(harbour, create_app(harbour.service, {}.get))
