"""The tokens that people make let programs in, as far as they say, until they are taken away."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest
from argon2 import PasswordHasher
from flask.testing import FlaskClient
from sqlalchemy import select, update

from tests.web.conftest import Someone, Web
from tests.web.test_logging import LOADED
from tracker.bootstrap import web_app
from tracker.services import passphrases, people
from tracker.services.people import Person
from tracker.services.service import Service, new_id
from tracker.store import people_tables, tables
from tracker.web.app import create_app

CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


def administrator(service: Service) -> Person:
    """The first person, by a link whose token is known here."""
    with service.store.writing() as conn:
        known = hashlib.sha256(b"link").hexdigest()
        conn.execute(update(tables.SetupLink).values(token_sha256=known))
    session = people.set_up_first(service, "link", "Ada", "tide turns at noon")
    person = people.session_of(service, session)
    assert person is not None
    return person


def status(client: FlaskClient, token: str) -> tuple[int, int]:
    """What a token gets for looking, and for logging."""
    headers = {"Authorization": f"Bearer {token}"}
    looked = client.get("/api/v1/cards", headers=headers)
    logged = client.post("/api/v1/facts", json=LOADED, headers=headers)
    return looked.status_code, logged.status_code


def test_a_token_holds_as_far_and_as_long_as_it_says(
    web: Web, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passphrases, "HASHER", CHEAP)
    service, clock = web.harbour.service, web.harbour.clock
    ada = administrator(service)
    client = web_app(service).test_client()
    looks = people.make_token(service, ada, "wall screen", "look", None)
    logs = people.make_token(service, ada, "cart", "log", clock.now + timedelta(hours=1))
    assert status(client, looks) == (200, 403)
    assert status(client, logs) == (200, 201)
    assert web.harbour.facts("S-014")[-1].by == ada.id
    clock.wait(60)
    assert status(client, logs) == (401, 401)
    with service.store.reading() as conn:
        of = people_tables.ApiToken
        token_id = conn.scalar(select(of.id).where(of.name == "wall screen"))
    assert token_id is not None
    people.revoke_token(service, ada, token_id)
    assert status(client, looks) == (401, 401)


def test_a_token_does_no_more_than_the_role_of_its_person(web: Web) -> None:
    harbour = web.harbour
    lee = Someone("lee", "Lee", "loader", "phone")
    client = create_app(harbour.service, {"lees": (lee, "log")}.get).test_client()
    fact = {"id": new_id(), "event": "cleared", "card": "S-014"}
    body = {**fact, "occurred_at": harbour.clock.now.isoformat()}
    answer = client.post("/api/v1/facts", json=body, headers={"Authorization": "Bearer lees"})
    assert answer.status_code == 403
    assert "loader may not log cleared" in answer.get_json()["error"]["message"]
    note = {**body, "event": "noted", "text": "the case is wet"}
    answer = client.post("/api/v1/facts", json=note, headers={"Authorization": "Bearer lees"})
    assert answer.status_code == 201
