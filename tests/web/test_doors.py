"""Nobody sees a page who is not signed in; whoever signs in comes to where they wanted."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher

from tests.web.visitor import Crew, Visitor
from tracker.services import passphrases, people

WORDS = "three wet herons"


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passphrases, "HASHER", PasswordHasher(1, 8, 1))


@pytest.fixture
def sam(crew: Crew) -> Visitor:
    """Sam, a loader with a passphrase, who is not signed in."""
    ada = people.session_of(crew.harbour.service, crew.tokens["Ada"])
    assert ada is not None
    link = people.invite(crew.harbour.service, ada, "loader", "Sam")
    people.accept(crew.harbour.service, link, WORDS, "")
    return Visitor(crew.app)


def test_whoever_is_not_signed_in_is_led_to_the_door_and_back(sam: Visitor) -> None:
    page = sam.get("/drives/RAID?x=1")
    assert "Your passphrase" in page.says
    page = sam.press(page, "Sign in", name="sam", passphrase=WORDS)
    assert sam.at == "/drives/RAID?x=1"
    assert "RAID" in page.says


def test_a_wrong_passphrase_is_said_and_the_name_is_kept(sam: Visitor) -> None:
    page = sam.press(sam.get("/sign-in"), "Sign in", name="Sam", passphrase="three dry herons")
    assert page.status == 403
    assert people.NOT_TOGETHER in page.says
    assert page.form("Sign in").fields["name"] == "Sam"
    # A passphrase never comes back on a page.
    assert "dry" not in page.answer.text


def test_too_many_tries_have_to_wait(sam: Visitor) -> None:
    page = sam.get("/sign-in")
    for _ in range(passphrases.FREE_TRIES):
        assert sam.press(page, "Sign in", name="Sam", passphrase="no " * 5).status == 403
    page = sam.press(page, "Sign in", name="Sam", passphrase=WORDS)
    assert page.status == 429
    assert "wait 15 seconds" in page.says


def test_a_form_of_somebody_signed_out_leads_to_the_door_and_back_to_its_page(
    crew: Crew, sam: Visitor
) -> None:
    before = crew.harbour.count()
    page = sam.send("/cards/S-014/note", {"text": "a scratch", "back": "/cards/S-014"})
    assert (page.status, crew.harbour.count()) == (401, before)
    assert "Nothing was logged: sign in, and say it once more." in page.says
    (door,) = [link for link in page.read.links if link.startswith("/sign-in")]
    sam.press(sam.get(door), "Sign in", name="Sam", passphrase=WORDS)
    assert sam.at == "/cards/S-014"


def test_signed_out_is_out(sam: Visitor) -> None:
    sam.press(sam.get("/sign-in"), "Sign in", name="Sam", passphrase=WORDS)
    sam.press(sam.get("/me"), "Sign out")
    assert "Your passphrase" in sam.get("/drives").says
