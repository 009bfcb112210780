"""What is true comes out over HTTP, to whoever may look."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.web.conftest import TOKENS, Web, fact
from tests.web.test_logging import LOADED, PULLED, error
from tracker.services.looking import now_for_programs
from tracker.services.service import Service
from tracker.store.engine import Store
from tracker.web.app import create_app

PATHS = ("now", "cards", "cards/S-014", "cards/S-014/facts", "rolls", "drives", "drives/RAID")
PATHS += ("mishaps",)


@pytest.fixture
def shot(web: Web) -> Web:
    copied = fact(3, "copy_finished", "08:07", drive="RAID", bytes=480_000_000_000)
    assert web.post([LOADED, PULLED, copied]).status_code == 201
    return web


def test_now_is_what_the_command_says(shot: Web) -> None:
    assert shot.told("now") == now_for_programs(shot.harbour.service)
    assert shot.told("cards") == {"cards": shot.told("now")["cards"]}
    assert shot.told("mishaps") == {"mishaps": shot.told("now")["mishaps"]}


def test_one_card_is_told_with_its_history(shot: Web) -> None:
    card = shot.told("cards/S-014")
    assert (card["status"], card["holds"], card["uncovered"]) == ("exposed", ["A001"], ["A001"])
    assert "roll A001 has no copy that counts" in card["reasons_not_to_clear"][0]
    facts = shot.told("cards/S-014/facts")
    assert facts == {"label": "S-014", "facts": card["history"]}
    assert [one["event"] for one in facts["facts"]][-3:] == ["loaded", "pulled", "copy_finished"]
    assert "Loaded into camera A as A001" in facts["facts"][-3]["says"]


def test_rolls_are_told_with_their_copies_all_or_by_name(shot: Web) -> None:
    shot.post([fact(4, "loaded", "08:20", camera="B", roll="B001") | {"card": "S-015"}])
    rolls = shot.told("rolls")["rolls"]
    assert [roll["roll"] for roll in rolls] == ["A001", "B001"]
    assert shot.told("rolls?name=A001") == {"rolls": rolls[:1]}
    assert [copy["drive"] for copy in rolls[0]["copies"]] == ["RAID"]
    assert rolls[1]["copies"] == []
    told = error(shot.get("rolls?name=A0O1"), 404, "unknown_label")
    assert "A001" in told["message"]


def test_drives_are_told_all_or_one_with_its_rolls(shot: Web) -> None:
    drives = {drive["drive"]: drive for drive in shot.told("drives")["drives"]}
    assert list(drives) == ["RAID", "SHUTTLE", "VAULT"]
    raid = shot.told("drives/RAID")
    rolls = raid.pop("rolls")
    assert raid == drives["RAID"]
    assert [(roll["roll"], roll["card"]) for roll in rolls] == [("A001", "S-014")]
    assert raid["bytes"] == 480_000_000_000


@pytest.mark.parametrize("label", ["S/14 é?%41", "S//15"])
def test_a_label_may_hold_any_sign(web: Web, label: str) -> None:
    made = fact(1, "registered", card=label, media="2.5in SSD", capacity_bytes=10**12)
    assert web.post(made | {"card": label}).status_code == 201
    quoted = label.replace("%", "%25").replace("?", "%3F").replace("/", "%2F")
    assert web.told(f"cards/{quoted}")["label"] == label
    assert web.told(f"cards/{quoted}/facts")["label"] == label


@pytest.mark.parametrize("path", ["cards/S-O14", "cards/S-O14/facts", "drives/RIAD"])
def test_what_nobody_registered_is_answered_with_the_nearest(web: Web, path: str) -> None:
    told = error(web.get(path), 404, "unknown_label")
    assert "(the nearest: " in told["details"][0]["message"]


@pytest.mark.parametrize("path", ["cards/%00", "cards/%00/facts", "drives/%00", "rolls?name=%00"])
def test_what_can_be_no_name_is_not_found(web: Web, path: str) -> None:
    error(web.get(path), 404, "not_found")


def test_every_token_may_look(web: Web) -> None:
    for path in PATHS:
        for scope in ("look", "log", "history"):
            assert web.get(path, scope).status_code == 200


GIVEN = (None, "Bearer", "Bearer stolen", "Basic a2ltOmtpbQ==", "Bearer é", "token-to-look")


def test_nobody_looks_without_a_token(web: Web) -> None:
    for path in PATHS:
        for given in GIVEN:
            headers = {} if given is None else {"Authorization": given}
            answer = web.client.get(f"/api/v1/{path}", headers=headers)
            error(answer, 401, "not_signed_in")
            assert answer.headers["WWW-Authenticate"].startswith("Bearer realm=")


def test_a_token_in_an_address_lets_nobody_in(web: Web) -> None:
    """Addresses end up in logs."""
    answer = web.client.get("/api/v1/now?token=token-to-look&access_token=token-to-look")
    error(answer, 401, "not_signed_in")


@pytest.mark.parametrize("path", ["", "nothing", "cards/", "../api/v1/", "%00"])
def test_an_address_with_nothing_there_has_the_same_error(web: Web, path: str) -> None:
    error(web.get(path), 404, "not_found")


def test_a_method_that_is_not_taken_has_the_same_error(web: Web) -> None:
    answer = web.client.delete("/api/v1/cards")
    error(answer, 405, "method_not_allowed")
    assert "GET" in answer.headers["Allow"]


def test_a_fault_of_ours_shows_no_trace(
    web: Web, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(_service: object) -> None:
        raise RuntimeError("the passphrase is swordfish")

    monkeypatch.setattr("tracker.services.looking.now_for_programs", broken)
    answer = web.get("now")
    error(answer, 500, "internal")
    assert "swordfish" not in answer.text
    assert "Traceback" not in answer.text
    assert "swordfish" in caplog.text


@pytest.mark.parametrize("path", ["/api/v1/now", "/api/v1/nothing", "/healthz", "/sign-in"])
def test_every_answer_says_how_a_browser_is_to_take_it(web: Web, path: str) -> None:
    headers = web.client.get(path).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self';")
    assert "unsafe" not in policy
    assert headers["Cache-Control"] == "no-store"
    kind = "text/html; charset=utf-8" if path == "/sign-in" else "application/json"
    assert headers["Content-Type"] == kind


def test_health_is_told_to_anybody(web: Web) -> None:
    answer = web.client.get("/healthz")
    assert (answer.status_code, answer.json) == (200, {"ok": True})


def test_without_a_production_it_is_not_well(store: Store) -> None:
    client = create_app(Service(store), TOKENS.get).test_client()
    answer = client.get("/healthz")
    assert (answer.status_code, answer.json) == (503, {"ok": False})


def test_without_its_tables_it_is_not_well(new_store: Callable[..., Store]) -> None:
    empty = new_store("sqlite", migrated=False)
    answer = create_app(Service(empty), TOKENS.get).test_client().get("/healthz")
    assert (answer.status_code, answer.json) == (503, {"ok": False})


def test_a_card_that_is_probably_out_is_not_to_be_formatted(web: Web) -> None:
    for number, label in ((1, "S-014"), (2, "S-015")):
        said = fact(number, "loaded", f"08:0{number}", card=label, camera="A", formatted=True)
        assert web.post(said).status_code == 201
    told = web.told("cards/S-014")
    assert told["status"] == "loaded"
    assert told["may_format"] is False
    assert "probably out" in told["next"]
    assert "probably out" not in web.told("cards/S-015")["next"]
