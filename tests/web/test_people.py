"""Who comes in, by which link, on which devices, and how they are let out: at the pages."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from argon2 import PasswordHasher

from tests.web.visitor import Crew, Page, Visitor
from tracker.services import passphrases
from tracker.web.pages.people import code_of

GOOD = "tide turns at noon"
OTHER = "gulls over the quay"
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(passphrases, "HASHER", CHEAP)
    yield


def invited(crew: Crew, name: str = "Noor", role: str = "loader") -> tuple[Page, str]:
    """The page after inviting somebody, and the path of the link on it."""
    page = crew.ada.press(crew.ada.get("/people"), "Make the link", name=name, role=role)
    found = re.search(r">http://localhost(/join/[^<]+)<", page.answer.text)
    assert found, page.says
    return page, found[1]


def joined(crew: Crew, name: str = "Noor", role: str = "loader") -> Visitor:
    """Somebody who came in by a link."""
    _, link = invited(crew, name, role)
    visitor = Visitor(crew.app)
    page = visitor.press(visitor.get(link), f"Join as {name}", passphrase=GOOD)
    assert page.status == 200
    return visitor


def sign_in(crew: Crew, name: str, passphrase: str) -> tuple[Visitor, Page]:
    visitor = Visitor(crew.app)
    page = visitor.get("/sign-in")
    return visitor, visitor.press(page, "Sign in", name=name, passphrase=passphrase)


# Inviting


def test_ada_invites_noor_who_joins_by_the_link(crew: Crew) -> None:
    page, link = invited(crew)
    assert "It is shown this once." in page.says
    assert "<svg" in page.answer.text
    phone = Visitor(crew.app)
    page = phone.get(link)
    assert "Ada invited Noor as loader." in page.says
    assert "Ten characters or more" in page.says
    phone.press(page, "Join as Noor", passphrase=GOOD)
    assert "Your role is loader." in phone.get("/me").says
    assert "Noor" in crew.ada.get("/people").says
    assert "Nobody is invited." in crew.ada.get("/people").says


def test_a_link_that_was_used_says_so(crew: Crew) -> None:
    _, link = invited(crew)
    phone = Visitor(crew.app)
    page = phone.get(link)
    phone.press(page, "Join as Noor", passphrase=GOOD)
    stranger = Visitor(crew.app)
    assert stranger.get(link).status == 410
    page = stranger.press(page, "Join as Noor", passphrase=OTHER)
    assert page.status == 410
    assert "ask the administrator for a new one" in page.says


def test_a_link_that_never_was_says_the_same(crew: Crew) -> None:
    assert crew.nobody.get("/join/never-made").status == 410


def test_a_link_runs_out_after_seven_days(crew: Crew) -> None:
    _, link = invited(crew)
    crew.harbour.clock.wait(7 * 24 * 60)
    assert crew.nobody.get(link).status == 410


def test_a_passphrase_that_is_too_short_spends_no_link(crew: Crew) -> None:
    _, link = invited(crew)
    phone = Visitor(crew.app)
    page = phone.press(phone.get(link), "Join as Noor", passphrase="too short")
    assert page.status == 400
    assert "A passphrase has 10 to 200 characters, and this one has 9" in page.says
    assert phone.press(page, "Join as Noor", passphrase=GOOD).status == 200


def test_an_invitation_is_withdrawn(crew: Crew) -> None:
    _, link = invited(crew)
    page = crew.ada.press(crew.ada.get("/people"), "Withdraw the link for Noor")
    assert "The link was withdrawn" in page.says
    assert crew.nobody.get(link).status == 410


def test_a_name_that_somebody_has_is_kept_to_be_changed(crew: Crew) -> None:
    page = crew.ada.press(crew.ada.get("/people"), "Make the link", name="lee", role="loader")
    assert page.status == 400
    assert "Somebody here is called lee" in page.says
    assert page.form("Make the link").fields["name"] == "lee"
    assert page.form("Make the link").fields["role"] == "loader"


def test_a_role_must_be_chosen(crew: Crew) -> None:
    page = crew.ada.press(crew.ada.get("/people"), "Make the link", name="Noor")
    assert "Choose their role." in page.says


def test_whoever_joins_where_somebody_is_signed_in_ends_that_session(crew: Crew) -> None:
    _, link = invited(crew)
    page = crew.lee.get(link)
    assert "Lee is signed in here" in page.says
    crew.lee.press(page, "Join as Noor", passphrase=GOOD)
    assert "Your role is loader" in crew.lee.get("/me").says
    old = Visitor(crew.app, crew.tokens["Lee"])
    assert "Your passphrase" in old.get("/me").says


def test_a_link_for_this_computer_alone_says_so(crew: Crew) -> None:
    page, _ = invited(crew)
    assert "works only on this computer" in page.says


def test_a_code_has_its_quiet_zone_and_no_style_of_its_own() -> None:
    drawn = str(code_of("http://cart.local/join/abc"))
    assert " style=" not in drawn
    assert 'd="M4 4.5h7' in drawn
    assert 'fill="#fff"' in drawn


# Letting out


def test_noor_is_let_out_after_a_question(crew: Crew) -> None:
    noor = joined(crew)
    page = crew.ada.get("/people")
    way = next(
        link for link in page.read.links if link.endswith("/out") and _of(page, "Noor", link)
    )
    page = crew.ada.get(way)
    assert "Let Noor out?" in page.says
    assert "What they logged stays as it is" in page.says
    page = crew.ada.press(page, "Let Noor out")
    assert "They were let out" in page.says
    assert "Your passphrase" in noor.get("/me").says
    assert "do not go together" in sign_in(crew, "Noor", GOOD)[1].says


def _of(page: Page, name: str, link: str) -> bool:
    return f'href="{link}">Let {name} out' in page.answer.text


def test_the_only_administrator_stays(crew: Crew) -> None:
    page = crew.ada.get("/people")
    (way,) = (x for x in page.read.links if x.endswith("/out") and _of(page, "Ada", x))
    asked = crew.ada.get(way)
    assert "Ada is the only administrator" in asked.says
    assert "Let Ada out" not in asked.buttons
    fields = page.form("Make the link").fields
    page = crew.ada.send(way, {"form_key": fields["form_key"]})
    assert page.status == 403
    assert "There must be an administrator" in page.says


def test_somebody_who_is_not_there_cannot_be_let_out(crew: Crew) -> None:
    assert crew.ada.get("/people/nobody/out").status == 404


def test_ada_signs_one_of_lees_devices_out(crew: Crew) -> None:
    page = crew.ada.get("/people")
    (way,) = (x for x in page.read.links if f'href="{x}">1 device of Lee' in page.answer.text)
    page = crew.ada.get(way)
    (button,) = (words for words in page.buttons if words.startswith("Sign out device"))
    crew.ada.press(page, button)
    assert "Your passphrase" in crew.lee.get("/me").says


# One's own page


def test_me_says_who_i_am_and_what_i_may_do(crew: Crew) -> None:
    page = crew.lee.get("/me")
    assert "Your role is loader. You may: see every card" in page.says
    assert "clear cards" not in page.says
    assert "a browser of a test (this one)" in page.says
    assert "Make the token" not in page.buttons


def test_i_sign_out(crew: Crew) -> None:
    page = crew.lee.press(crew.lee.get("/me"), "Sign out")
    assert "Your passphrase" in page.says
    assert "Your passphrase" in Visitor(crew.app, crew.tokens["Lee"]).get("/me").says


def test_i_end_one_session_and_all_others(crew: Crew) -> None:
    phone = joined(crew)
    laptop, _ = sign_in(crew, "Noor", GOOD)
    tablet, _ = sign_in(crew, "Noor", GOOD)
    page = phone.get("/me")
    first = next(words for words in page.buttons if words.startswith("Sign out device"))
    phone.press(page, first)
    ended = [v for v in (laptop, tablet) if "Your passphrase" in v.get("/me").says]
    assert len(ended) == 1
    page = phone.press(phone.get("/me"), "Sign out everywhere but here")
    assert "everywhere but here" in page.says
    assert "Your passphrase" in laptop.get("/me").says
    assert "Your passphrase" in tablet.get("/me").says
    phone.press(phone.get("/me"), "Sign this one out")
    assert "Your passphrase" in phone.get("/me").says


def test_i_cannot_end_the_session_of_somebody_else(crew: Crew) -> None:
    page = crew.lee.get("/me")
    device = re.search(r'name="device" value="([^"]+)"', crew.pat.get("/me").answer.text)
    assert device
    answer = crew.lee.press(page, "Sign this one out", device=device[1])
    assert answer.status == 400
    assert "Your role is" in crew.pat.get("/me").says


def test_i_change_my_passphrase_by_the_one_that_i_have(crew: Crew) -> None:
    phone = joined(crew)
    laptop, _ = sign_in(crew, "Noor", GOOD)
    page = phone.get("/me")
    assert phone.press(page, "Change my passphrase", old="not this one", new=OTHER).status == 400
    assert phone.press(page, "Change my passphrase", old=GOOD, new="short").status == 400
    assert "Your role is" in laptop.get("/me").says
    page = phone.press(page, "Change my passphrase", old=GOOD, new=OTHER)
    assert "Your passphrase was changed" in page.says
    assert "Your passphrase" in laptop.get("/sign-in").says
    assert "do not go together" in sign_in(crew, "Noor", GOOD)[1].says
    assert "Your role is loader" in sign_in(crew, "Noor", OTHER)[0].get("/me").says


def test_the_old_passphrase_cannot_be_guessed_at_speed(crew: Crew) -> None:
    phone = joined(crew)
    page = phone.get("/me")
    for _ in range(5):
        assert phone.press(page, "Change my passphrase", old="guess", new=OTHER).status == 400
    page = phone.press(page, "Change my passphrase", old=GOOD, new=OTHER)
    assert page.status == 429
    crew.harbour.clock.wait(3)
    page = phone.press(page, "Change my passphrase", old=GOOD, new=OTHER)
    assert "Your passphrase was changed" in page.says


def test_whoever_has_no_passphrase_is_not_asked_for_it(crew: Crew) -> None:
    assert "Change my passphrase" not in crew.lee.get("/me").buttons


# Tokens for programs


def test_kim_makes_a_token_that_is_shown_once_and_revokes_it(crew: Crew) -> None:
    page = crew.kim.press(crew.kim.get("/me"), "Make the token", name="cart reader", scope="log")
    found = re.search(r'id="token"[^>]*>([^<]+)<', page.answer.text)
    assert found
    assert "It is shown this once." in page.says
    page = crew.kim.get("/me")
    assert "cart reader" in page.says
    assert found[1] not in page.answer.text
    assert "cart reader" in crew.ada.get("/people").says
    page = crew.kim.press(page, "Revoke cart reader of Kim")
    assert "The token was revoked" in page.says
    assert "No token lets a program in." in page.says


def test_ada_revokes_the_token_of_kim(crew: Crew) -> None:
    crew.kim.press(crew.kim.get("/me"), "Make the token", name="cart reader", scope="look")
    page = crew.ada.press(crew.ada.get("/people"), "Revoke cart reader of Kim")
    assert "The token was revoked" in page.says
    assert crew.ada.at.startswith("/people")


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"name": ""}, "expected some words"),
        ({"scope": "all"}, "expected one of: look, log, history"),
        ({"days": "0"}, "expected 1 to 3650 days"),
        ({"days": "soon"}, "expected a whole number"),
    ],
)
def test_a_token_that_cannot_be_made_says_why(crew: Crew, typed: dict[str, str], says: str) -> None:
    given = {"name": "cart reader", "scope": "log", **typed}
    page = crew.kim.press(crew.kim.get("/me"), "Make the token", **given)
    assert page.status == 400
    assert says in page.says


def test_only_an_administrator_makes_a_token_for_history(crew: Crew) -> None:
    assert "log what happened before" not in crew.kim.get("/me").says
    page = crew.kim.press(crew.kim.get("/me"), "Make the token", name="old days", scope="history")
    assert page.status == 403
