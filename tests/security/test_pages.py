"""Nobody gets in who does not belong: every page and every form, for every role, cell by cell."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import pytest
from argon2 import PasswordHasher
from flask import Flask
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from tests.services.harbour import Clock, Harbour, begin
from tests.web.visitor import NAMES, Crew, Visitor
from tracker.services import passphrases, people
from tracker.services.roles import ROLES, TABLE
from tracker.store.engine import Store
from tracker.web.app import HEADERS, create_app
from tracker.web.guard import OPEN, TOKEN, guard, needed
from tracker.web.session import COOKIE

GOOD = "tide turns at noon"
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
SAMPLES = {
    "label": ("S-014", "RAID"),
    "letters": ("A",),
    "name": ("look.css",),
}
"""What stands in an address where it asks for something: all of them, or none that is there."""

ELSEWHERE = (
    "https://evil.example/",
    "//evil.example/",
    "/\\evil.example/",
    "\\\\evil.example/",
    "/\t/evil.example/",
    "\t//evil.example/",
    "/\r\n//evil.example/",
    "javascript:alert(1)",
    "evil.example",
    "",
)
"""Addresses that a browser may take for another site's, or that are none."""


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passphrases, "HASHER", CHEAP)


@pytest.fixture
def crew(new_store: Callable[..., Store]) -> Crew:
    """Harbour, where S-014 has come out of camera A."""
    harbour = begin(new_store("sqlite"), Clock())
    return Crew(harbour, create_app(harbour.service, {}.get))


def guarded(app: Flask, method: str) -> list[Rule]:
    """Every address that takes a method and asks for a role."""
    return [
        rule
        for rule in app.url_map.iter_rules()
        if method in (rule.methods or ()) and needed(app, rule.endpoint) not in (OPEN, TOKEN)
    ]


def addresses(rule: Rule) -> list[str]:
    """Addresses that a rule takes: with things that are there, and with something that is not."""
    found = []
    for n in range(2):
        values = {}
        for argument in rule.arguments:
            known = SAMPLES.get(argument, ("nothing-here",))
            values[argument] = known[min(n, len(known) - 1)]
        built = rule.build(values)
        assert built is not None, rule.rule
        found.append(built[1])
    return list(dict.fromkeys(found))


def key_of(visitor: Visitor) -> str:
    """What the forms of somebody's visit carry."""
    found = re.search(r'name="form_key" value="([0-9a-f]{64})"', visitor.get("/me").answer.text)
    assert found
    return found[1]


class Entering:
    """Somebody new of a role for each address, since some addresses end a session."""

    def __init__(self, crew: Crew) -> None:
        self.crew = crew
        self.made = 0

    def __call__(self, role: str) -> Visitor:
        self.made += 1
        name = f"{role} {self.made}"
        return Visitor(self.crew.app, people.let_in(self.crew.harbour.service, name, role, "test"))


# The table, cell by cell


@pytest.mark.parametrize("role", ROLES)
def test_every_page_is_for_the_roles_of_the_table(crew: Crew, role: str) -> None:
    enter = Entering(crew)
    rules = guarded(crew.app, "GET")
    assert len(rules) >= 8
    visitor = enter(role)
    for rule in rules:
        action = needed(crew.app, rule.endpoint)
        assert action in TABLE, rule.rule
        for address in addresses(rule):
            status = visitor.client.get(address).status_code
            if role in TABLE[action]:
                assert status not in (401, 403), (role, address, status)
                assert status < 500, (role, address, status)
            else:
                assert status == 403, (role, address, status)


@pytest.mark.parametrize("role", ROLES)
def test_every_form_is_for_the_roles_of_the_table(crew: Crew, role: str) -> None:
    enter = Entering(crew)
    rules = guarded(crew.app, "POST")
    assert len(rules) >= 15
    for rule in rules:
        action = needed(crew.app, rule.endpoint)
        assert action in TABLE, rule.rule
        for address in addresses(rule):
            visitor = enter(role)
            before = crew.harbour.count()
            answer = visitor.client.post(address, data={"form_key": key_of(visitor)})
            status = answer.status_code
            if role in TABLE[action]:
                assert status not in (401, 403), (role, address, status, answer.text)
                assert status < 500, (role, address, status)
            else:
                assert status == 403, (role, address, status)
                assert crew.harbour.count() == before, (role, address)


def test_every_act_of_a_page_asks_for_the_act_of_its_name(crew: Crew) -> None:
    """A form that is called as an act of the table asks for that act, and no weaker one."""
    for rule in guarded(crew.app, "POST"):
        word = rule.endpoint.rpartition(".")[2]
        # The button "Take this back" takes one's own last tap back, and no more.
        word = {"take_back": "take_back_last"}.get(word, word)
        if word in TABLE:
            assert needed(crew.app, rule.endpoint) == word


def test_an_address_that_says_nothing_of_it_does_not_start_the_service(crew: Crew) -> None:
    def planted() -> str:
        return "come in"

    app = Flask("planted")
    app.add_url_rule("/planted", "planted", planted)
    with pytest.raises(LookupError, match="planted"):
        guard(app)


def test_few_addresses_are_open_and_all_of_them_are_known(crew: Crew) -> None:
    """Whoever opens another address to everybody has to say so here too."""
    app = crew.app
    opened = {r.rule for r in app.url_map.iter_rules() if needed(app, r.endpoint) == OPEN}
    assert opened <= {
        "/static/<path:name>",
        "/healthz",
        "/sign-in",
        "/join/<token>",
        "/set-up/<token>",
        "/come-in/<word>",
        # A calendar cannot sign in: whoever has the link sees what is due, and nothing else.
        "/calendar/<token>.ics",
        "/api/v1/openapi.json",
    }


def test_every_address_of_the_api_asks_for_a_token(crew: Crew) -> None:
    for rule in crew.app.url_map.iter_rules():
        if not rule.rule.startswith("/api/") or needed(crew.app, rule.endpoint) == OPEN:
            continue
        assert needed(crew.app, rule.endpoint) == TOKEN
        # A browser's cookie opens no address of the API: no page of another site can use it.
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
            answer = crew.ada.client.open(addresses(rule)[0], method=method)
            assert answer.status_code == 401, rule.rule


# Not signed in


def test_whoever_is_not_signed_in_sees_the_door(crew: Crew) -> None:
    for rule in guarded(crew.app, "GET"):
        for address in addresses(rule):
            answer = crew.nobody.client.get(address)
            assert answer.status_code == 303, address
            assert urlsplit(answer.location).path == "/sign-in", address


def test_whoever_is_not_signed_in_says_nothing(crew: Crew) -> None:
    before = crew.harbour.count()
    for rule in guarded(crew.app, "POST"):
        for address in addresses(rule):
            assert crew.nobody.client.post(address).status_code == 401, address
    assert crew.harbour.count() == before


@pytest.mark.parametrize("token", ["", "x", "x" * 5_000, "é\ud7ff", "a;b"])
def test_a_cookie_that_is_none_lets_nobody_in(crew: Crew, token: str) -> None:
    answer = crew.app.test_client().get("/me", headers={"Cookie": f"{COOKIE}={token}"})
    assert answer.status_code == 303


def test_whoever_was_let_out_is_out_at_once(crew: Crew) -> None:
    ada = people.session_of(crew.harbour.service, crew.tokens["Ada"])
    lee = people.session_of(crew.harbour.service, crew.tokens["Lee"])
    assert ada and lee
    people.revoke_person(crew.harbour.service, ada, lee.id)
    assert crew.lee.client.get("/me").status_code == 303


# Forms of other sites


@pytest.mark.parametrize("key", [None, "", "0" * 64, "é", "of somebody else"])
def test_a_form_without_its_key_says_nothing(crew: Crew, key: str | None) -> None:
    fields = {} if key is None else {"form_key": key}
    if key == "of somebody else":
        fields = {"form_key": key_of(crew.ada)}
    before = crew.harbour.count()
    for rule in guarded(crew.app, "POST"):
        answer = crew.kim.client.post(addresses(rule)[0], data=fields)
        assert answer.status_code == 403, rule.rule
    assert crew.harbour.count() == before
    assert crew.kim.client.get("/me").status_code == 200


@pytest.mark.parametrize(
    "header",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost.evil.example"},
        {"Origin": "http://localhost:81"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_that_another_site_sends_says_nothing(crew: Crew, header: dict[str, str]) -> None:
    before = crew.harbour.count()
    fields = {"form_key": key_of(crew.kim)}
    for rule in crew.app.url_map.iter_rules():
        needs = needed(crew.app, rule.endpoint)
        if "POST" not in (rule.methods or ()) or needs == TOKEN:
            continue
        answer = crew.kim.client.post(addresses(rule)[0], data=fields, headers=header)
        assert answer.status_code == 403, rule.rule
    assert crew.harbour.count() == before


def test_a_form_from_a_page_of_ours_counts(crew: Crew) -> None:
    page = crew.kim.get("/drives/RAID")
    form = page.form("Log where RAID is")
    ours = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    answer = crew.kim.client.post(form.action, data=form.fields, headers=ours)
    assert answer.status_code == 303


def test_looking_changes_nothing(crew: Crew) -> None:
    before = crew.harbour.count()
    for rule in guarded(crew.app, "GET"):
        for address in addresses(rule):
            crew.ada.client.get(address)
    assert crew.harbour.count() == before


# The cookie


def member(crew: Crew) -> Harbour:
    """Noor, who has a passphrase."""
    ada = people.session_of(crew.harbour.service, crew.tokens["Ada"])
    assert ada
    token = people.invite(crew.harbour.service, ada, "loader", "Noor")
    people.accept(crew.harbour.service, token, GOOD, "phone")
    return crew.harbour


def signing_in(crew: Crew, client: Any = None, **more: Any) -> TestResponse:
    fields = {"name": "Noor", "passphrase": GOOD, **more.pop("fields", {})}
    client = client or crew.app.test_client()
    answer: TestResponse = client.post("/sign-in", data=fields, **more)
    return answer


def cookie(answer: TestResponse) -> str:
    (found,) = (c for c in answer.headers.getlist("Set-Cookie") if c.startswith(COOKIE))
    return str(found)


def test_the_cookie_is_for_this_site_and_no_script(crew: Crew) -> None:
    member(crew)
    flags = cookie(signing_in(crew))
    assert "HttpOnly" in flags
    assert "SameSite=Lax" in flags
    assert "Domain" not in flags
    assert "Secure" not in flags
    assert "Secure" in cookie(signing_in(crew, base_url="https://localhost"))


def test_signing_in_gives_another_cookie_than_one_that_was_planted(crew: Crew) -> None:
    member(crew)
    client = crew.app.test_client()
    client.set_cookie(COOKIE, "planted")
    signing_in(crew, client)
    held = client.get_cookie(COOKIE)
    assert held is not None
    assert held.value != "planted"
    first = held.value
    signing_in(crew, client)
    held = client.get_cookie(COOKIE)
    assert held is not None
    assert held.value != first
    planted = crew.app.test_client()
    planted.set_cookie(COOKIE, "planted")
    assert planted.get("/me").status_code == 303


def test_a_cookie_that_was_signed_out_is_dead(crew: Crew) -> None:
    key = key_of(crew.lee)
    crew.lee.client.post("/sign-out", data={"form_key": key})
    copied = crew.app.test_client()
    copied.set_cookie(COOKIE, crew.tokens["Lee"])
    assert copied.get("/me").status_code == 303


def test_a_name_that_nobody_has_and_a_wrong_passphrase_look_alike(crew: Crew) -> None:
    member(crew)
    wrong = signing_in(crew, fields={"passphrase": "tide turns at nine"})
    nobody = signing_in(crew, fields={"name": "Nora"})
    assert wrong.status_code == nobody.status_code == 403
    assert wrong.text.replace("Noor", "N") == nobody.text.replace("Nora", "N")


def test_guessing_is_slowed_down(crew: Crew) -> None:
    member(crew)
    for _ in range(5):
        assert signing_in(crew, fields={"passphrase": "a guess"}).status_code == 403
    assert signing_in(crew).status_code == 429


# What every answer carries


def every_page(crew: Crew) -> list[TestResponse]:
    """Every page as Ada sees it, the doors, and answers that say no."""
    client = crew.ada.client
    got = [client.get(a) for rule in guarded(crew.app, "GET") for a in addresses(rule)]
    doors = [crew.nobody.client.get(a) for a in ("/sign-in", "/join/x", "/set-up/x", "/drives")]
    refused = [
        client.get("/nowhere"),
        client.put("/drives"),
        client.post("/drives"),
        crew.lee.client.get("/people"),
        crew.nobody.client.post("/drives"),
        client.get("/healthz"),
        client.get("/api/v1/now"),
        client.post("/drives", data=b"x" * (17 * 2**20)),
    ]
    return [*got, *doors, *refused]


def test_headers_stand_on_every_kind_of_answer(crew: Crew) -> None:
    for answer in every_page(crew):
        path = answer.request.path
        for name in set(HEADERS) - {"Cache-Control"}:
            assert answer.headers[name] == HEADERS[name], (path, name)
        assert answer.headers["Cache-Control"] == "no-store", path


def test_headers_stand_on_our_files_too(crew: Crew) -> None:
    for name, status in (("look.css", 200), ("page.js", 200), ("nothing", 404)):
        with crew.nobody.client.get(f"/static/{name}") as answer:
            assert answer.status_code == status
            for header in set(HEADERS) - {"Cache-Control"}:
                assert answer.headers[header] == HEADERS[header], (name, header)


def test_nothing_unsafe_is_allowed_and_nothing_from_outside() -> None:
    rules = HEADERS["Content-Security-Policy"]
    assert "unsafe" not in rules
    assert "http" not in rules
    assert "*" not in rules
    assert "data:" not in rules
    for must in ("default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
        assert must in rules


def test_no_page_has_script_or_style_of_its_own(crew: Crew) -> None:
    pages = [answer for answer in every_page(crew) if answer.mimetype == "text/html"]
    key = key_of(crew.ada)
    made = {"form_key": key, "name": "Noor", "role": "loader"}
    pages.append(crew.ada.client.post("/people", data=made))
    pages.append(
        crew.ada.client.post("/tokens", data={"form_key": key, "name": "x", "scope": "look"})
    )
    assert len(pages) >= 15
    for answer in pages:
        text, path = answer.text, answer.request.path
        assert "<style" not in text, path
        assert not re.search(r"<[^>]*\sstyle\s*=", text), path
        assert not re.search(r"<[^>]*\son[a-z]+\s*=", text), path
        assert not re.search(r"<script(?![^>]*\ssrc=\"/static/)", text), path
        assert not re.search(r"</?script[^>]*>[^<]", text.replace("</script>\n", "")), path
        assert "javascript:" not in text, path
        assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", text), path


def test_what_people_type_is_shown_and_never_run(crew: Crew) -> None:
    nasty = '"><script>alert(1)</script>'
    page = crew.ada.get("/people")
    page = crew.ada.press(page, "Make the link", name=nasty)
    assert nasty not in page.answer.text
    page = crew.kim.press(crew.kim.get("/drives"), "Register the drive", drive=nasty)
    assert nasty not in page.answer.text
    assert nasty not in crew.kim.client.get("/drives/x", query_string={"q": nasty}).text
    assert nasty not in crew.nobody.client.get("/sign-in", query_string={"next": nasty}).text


# Nowhere else


def leads_elsewhere(location: str) -> bool:
    parts = urlsplit(location)
    return bool(parts.netloc and parts.netloc != "localhost") or not location.startswith("/")


@pytest.mark.parametrize("address", ELSEWHERE)
def test_signing_in_leads_nowhere_else(crew: Crew, address: str) -> None:
    member(crew)
    answer = signing_in(crew, fields={"next": address})
    assert answer.status_code == 303
    assert answer.location == "/now", answer.location


@pytest.mark.parametrize("address", ELSEWHERE)
def test_a_form_leads_nowhere_else(crew: Crew, address: str) -> None:
    page = crew.kim.get("/drives/RAID")
    form = page.form("Log where RAID is")
    answer = crew.kim.client.post(form.action, data={**form.fields, "back": address})
    assert answer.status_code == 303
    assert answer.location.startswith("/drives/RAID?said="), answer.location
    wrong = crew.kim.client.post(form.action, data={"back": address})
    assert wrong.status_code == 403
    assert "evil.example" not in wrong.text


def test_an_address_of_ours_is_kept_through_the_door(crew: Crew) -> None:
    member(crew)
    led = crew.nobody.client.get("/drives/NEST%201%23a?rolls=below")
    page = Visitor(crew.app)
    door = page.get(led.location)
    asked = door.form("Sign in").fields["next"]
    assert asked == "/drives/NEST%201%23a?rolls=below"
    answer = signing_in(crew, fields={"next": asked})
    assert answer.location == asked


# Secrets


def test_a_secret_is_shown_once_and_stands_in_no_log(
    crew: Crew, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    key = key_of(crew.ada)
    page = crew.ada.client.post("/people", data={"form_key": key, "name": "Noor", "role": "loader"})
    link = re.search(r"/join/([\w-]{40,})", page.text)
    made = crew.ada.client.post("/tokens", data={"form_key": key, "name": "cart", "scope": "look"})
    token = re.search(r'id="token"[^>]*>([\w-]{40,})<', made.text)
    assert link and token
    crew.nobody.client.get(f"/join/{link[1]}")
    crew.nobody.client.get(f"/join/{link[1]}x")
    secrets = [link[1], token[1], GOOD, *crew.tokens.values()]
    signed_in = crew.app.test_client().post(f"/join/{link[1]}", data={"passphrase": GOOD})
    assert signed_in.status_code == 303
    signing_in(crew, fields={"passphrase": "tide turns at nine"})
    for answer in every_page(crew):
        for secret in secrets:
            assert secret not in answer.text, answer.request.path
            assert secret not in (answer.headers.get("Location") or "")
    for secret in secrets:
        assert secret not in caplog.text


def test_a_form_key_does_not_tell_the_session(crew: Crew) -> None:
    keys = {key_of(v) for v in (crew.kim, crew.lee, crew.pat, crew.ada)}
    assert len(keys) == len(NAMES)
    assert not keys & set(crew.tokens.values())


# Files, and faults of our own


@pytest.mark.parametrize(
    "path",
    [
        "../app.py",
        "..%2fapp.py",
        "%2e%2e/app.py",
        "..\\app.py",
        "..%5capp.py",
        "/etc/hosts",
        "%2fetc%2fhosts",
        "....//app.py",
        "look.css%00.png",
        "./../templates/base.html",
        "",
    ],
)
def test_only_our_own_files_are_served(crew: Crew, path: str) -> None:
    for version in ("", "?v=0", "?v=abc"):
        answer = crew.nobody.client.get(f"/static/{path}{version}")
        assert answer.status_code == 404, answer.text[:80]
        assert "create_app" not in answer.text


def test_a_fault_of_our_own_shows_no_trace(crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object, **__: object) -> None:
        raise RuntimeError("a secret of ours")

    crew.app.config["PROPAGATE_EXCEPTIONS"] = False
    # The logger is one for all apps of the process: it must be as it was afterwards.
    monkeypatch.setattr(crew.app.logger, "disabled", True)
    monkeypatch.setattr("tracker.services.drives_page.every_drive", breaks)
    answer = crew.kim.client.get("/drives")
    assert answer.status_code == 500
    assert "Something went wrong here" in answer.text
    for trace in ("Traceback", "RuntimeError", "a secret of ours", ".py", "tracker"):
        assert trace not in answer.text


def test_the_server_does_not_tell_what_it_runs_on(crew: Crew) -> None:
    answer = crew.nobody.client.get("/nowhere")
    for word in ("Flask", "Werkzeug", "Python", "waitress"):
        assert word not in answer.text
        assert word not in str(answer.headers)
