"""Facts come in over HTTP, and each is answered as the wire promises."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.services.harbour import PROOF, Clock, begin
from tests.web.conftest import Web, fact
from tracker.services.logging import Said, log_history
from tracker.services.looking import now_for_programs
from tracker.store.engine import Store

LOADED = fact(1, "loaded", camera="A", roll="A001")
PULLED = fact(2, "pulled", "08:05", bytes=480_000_000_000)


def error(answer: Any, status: int, code: str) -> Any:
    assert answer.status_code == status, answer.text
    assert answer.json.keys() == {"error"}
    told = answer.json["error"]
    assert told.keys() == {"code", "message", "details"}
    assert told["code"] == code
    return told


def test_a_fact_is_logged_and_its_id_echoed(web: Web) -> None:
    answer = web.post(LOADED)
    assert answer.status_code == 201
    assert answer.json == {"id": LOADED["id"], "result": "logged"}
    assert web.harbour.status("S-014") == "loaded"
    kept = web.harbour.facts("S-014")[-1]
    assert (kept.by, kept.device) == ("kim", "laptop")


def test_the_same_again_is_answered_200_whenever_it_was_sent(web: Web) -> None:
    web.post(LOADED)
    answer = web.post(LOADED | {"sent_at": "2026-03-02T09:00:00+00:00"})
    assert answer.status_code == 200
    assert answer.json == {"id": LOADED["id"], "result": "again"}


def test_an_id_in_capitals_comes_back_as_it_was_sent(web: Web) -> None:
    sent = LOADED | {"id": "0000000A-0000-4000-8000-00000000000A"}
    assert web.post(sent).json == {"id": sent["id"], "result": "logged"}


def test_an_id_with_another_body_is_a_conflict(web: Web) -> None:
    web.post(LOADED)
    told = error(web.post(LOADED | {"camera": "B"}), 422, "conflict")
    assert told["details"][0]["field"] == "id"


def test_a_batch_is_answered_fact_by_fact(web: Web) -> None:
    web.post(LOADED)
    answer = web.post([LOADED, PULLED, PULLED])
    assert answer.status_code == 201
    assert [one["result"] for one in answer.json["facts"]] == ["again", "logged", "again"]
    assert web.post([LOADED, PULLED]).status_code == 200
    assert web.post([]).json == {"facts": []}


def test_a_batch_with_faults_names_every_line_and_keeps_nothing(web: Web) -> None:
    before = web.harbour.count()
    told = error(web.post([LOADED, PULLED | {"bytes": -1}, fact(3, "pulld")]), 400, "bad_input")
    assert [(one["line"], one["field"]) for one in told["details"]] == [(2, "bytes"), (3, "event")]
    assert told["details"][0]["message"].startswith("found -1, expected a whole number")
    assert web.harbour.count() == before


def test_every_field_at_fault_is_named(web: Web) -> None:
    told = error(web.post(LOADED | {"slot": 0, "colour": "red"}), 400, "bad_input")
    assert [one["field"] for one in told["details"]] == ["slot", "colour"]
    assert all("line" not in one for one in told["details"])


@pytest.mark.parametrize(
    ("wrong", "field", "nearest"),
    [
        (LOADED | {"card": "S-O14"}, "card", "S-014"),
        (LOADED | {"camera": "AA"}, "camera", "A"),
        (fact(1, "copy_started", drive="RIAD"), "drive", "RAID"),
    ],
)
def test_what_nobody_registered_is_answered_with_the_nearest(
    web: Web, wrong: dict[str, Any], field: str, nearest: str
) -> None:
    told = error(web.post(wrong), 404, "unknown_label")
    assert told["details"][0]["field"] == field
    assert nearest in told["details"][0]["message"].split("nearest")[1]


def test_a_label_that_is_on_another_card_is_refused(web: Web) -> None:
    told = error(web.post(fact(1, "relabelled", new_label="S-015")), 409, "label_in_use")
    assert "'S-015'" in told["message"]


def test_a_clearing_is_refused_with_each_reason_and_nothing_is_kept(web: Web) -> None:
    web.post([LOADED, PULLED])
    before = web.harbour.count()
    told = error(web.post(fact(9, "cleared", "08:10")), 409, "refused")
    assert told["details"] == [
        {
            "message": "roll A001 has no copy that counts; the rule asks for 2: "
            "make 2 copies, checksummed, each on its own drive"
        }
    ]
    assert web.harbour.count() == before


def test_as_history_the_same_clearing_is_taken(web: Web) -> None:
    cleared = fact(9, "cleared", "08:10")
    answer = web.post([LOADED, PULLED, cleared], "history", query="?history=true")
    assert answer.status_code == 201
    kinds = [one["kind"] for one in web.told("mishaps")["mishaps"]]
    assert kinds == ["cleared_uncovered"]


def test_a_token_that_may_not_is_told_what_is_missing(web: Web) -> None:
    before = web.harbour.count()
    for scope, query, missing in (
        ("look", "", "log"),
        ("look", "?history=true", "log"),
        ("log", "?history=true", "history"),
    ):
        told = error(web.post(LOADED, scope, query=query), 403, "not_allowed")
        assert told["message"] == f"This token has the scope {scope}; here it needs {missing}."
    assert web.harbour.count() == before


NO_FACTS = (
    b'{"id": 1, "id": 2}',
    b"[1]",
    b'"a fact"',
    b"null",
    b"{",
    b"",
    b"\xff",
    b"[" * 100_000,
    b"9" * 10_000,
    b'{"event": "pulled", "bytes": 9007199254740993, "card": "\\ud800"}',
    b'[{"event": "\\ud800"}, {"\\ud800": 1e999}]',
)


@pytest.mark.parametrize("query", ["", "?history=true"])
def test_what_is_no_fact_is_malformed(web: Web, query: str) -> None:
    for body in NO_FACTS:
        assert error(web.post(body, "history", query=query), 400, "bad_input")["details"]


def test_a_field_said_twice_is_named(web: Web) -> None:
    told = error(web.post(b'[{"id": "1", "card": "A", "card": "B"}]'), 400, "bad_input")
    assert told["details"] == [{"message": "found the field card twice, expected each field once"}]


def test_only_json_is_taken(web: Web) -> None:
    error(web.post(LOADED, **{"Content-Type": "text/plain"}), 415, "not_json")


def test_a_flag_is_true_or_false(web: Web) -> None:
    told = error(web.post(LOADED, "history", query="?history=yes"), 400, "bad_input")
    assert told["details"][0]["field"] == "history"


def test_a_body_of_more_than_16_mib_is_refused(web: Web) -> None:
    error(web.post(b" " * (16 * 2**20 + 1)), 413, "too_large")


def few_days() -> list[dict[str, Any]]:
    copied = {"level": "checksummed", "proof": PROOF}
    return [
        LOADED,
        PULLED,
        fact(3, "copy_checked", "09:00", drive="RAID", **copied),
        fact(4, "copy_checked", "09:10", drive="SHUTTLE", **copied),
        fact(5, "cleared", "09:20"),
        fact(6, "formatted", "09:30", where="camera", camera="B"),
        fact(7, "loaded", "09:31", card="S-015", camera="A", slot=1) | {"card": "S-015"},
        fact(8, "drive_lost", "10:00", drive="SHUTTLE"),
        fact(9, "set_aside", "10:30", card="S-016", reason="dropped") | {"card": "S-016"},
    ]


def test_history_over_http_comes_out_as_from_a_file(
    web: Web, new_store: Callable[..., Store]
) -> None:
    other = begin(new_store(web.harbour.service.store.dialect), Clock())
    said = [Said(one, "days.jsonl", line) for line, one in enumerate(few_days(), start=1)]
    log_history(other.service, said)
    assert web.post(few_days(), "history", query="?history=true").status_code == 201
    over_http = web.told("now")
    assert over_http == now_for_programs(other.service)
    assert [card["status"] for card in over_http["cards"]] == ["ready", "loaded", "set aside"]
    assert [m["kind"] for m in over_http["mishaps"]] == ["covered_no_more"]
    assert web.harbour.agrees()
