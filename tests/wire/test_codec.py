from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.wire.strategies import any_enveloped, any_fact, facts
from tracker.domain.facts import (
    FACTS,
    Cleared,
    DriveVoided,
    Fact,
    Loaded,
    ProductionVoided,
    Pulled,
    UnitVoided,
    Voided,
)
from tracker.wire.codec import decode, decode_envelope, encode
from tracker.wire.faults import BadInput, Fault

NOW = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
ID = "0190b5d4-7c3a-7c1e-8f00-3a5b6c7d8e9f"
OTHER = "0190b5d4-7c3a-7c1e-8f00-3a5b6c7d8e90"
PULLED: dict[str, Any] = {
    "id": ID,
    "event": "pulled",
    "card": "S-014",
    "occurred_at": "2026-03-02T16:05:00+02:00",
    "bytes": 480_000_000_000,
}


def take(obj: dict[str, Any]) -> Fact:
    return decode(obj, logged_at=NOW, origin="here", source="live")


def faults(obj: dict[str, Any]) -> tuple[Fault, ...]:
    with pytest.raises(BadInput) as refused:
        take(obj)
    return refused.value.faults


def fields(obj: dict[str, Any]) -> list[str | None]:
    return [fault.field for fault in faults(obj)]


def test_a_pull_comes_in_with_its_time_in_utc() -> None:
    assert take(PULLED) == Pulled(
        id=ID,
        card="S-014",
        occurred_at=datetime(2026, 3, 2, 14, 5, tzinfo=UTC),
        logged_at=NOW,
        origin="here",
        bytes=480_000_000_000,
    )


def test_the_words_that_python_keeps_for_itself_are_on_the_wire() -> None:
    obj = PULLED | {"event": "loaded", "camera": "A", "as": "mirror"}
    del obj["bytes"]
    loaded = take(obj)
    assert isinstance(loaded, Loaded)
    assert loaded.loaded_as == "mirror"
    assert encode(loaded)["as"] == "mirror"


def test_unknown_stays_unknown_and_false_by_default_is_left_out() -> None:
    sent = encode(take(PULLED))
    assert sent == PULLED | {"occurred_at": "2026-03-02T14:05:00+00:00"}
    assert encode(take(PULLED | {"unmounted": False}))["unmounted"] is False


@pytest.mark.parametrize(
    ("subject", "kind"),
    [
        ({"card": "S-014"}, Voided),
        ({"drive": "RAID-1"}, DriveVoided),
        ({"unit": "main"}, UnitVoided),
        ({}, ProductionVoided),
    ],
)
def test_a_void_is_told_by_its_subject(subject: dict[str, str], kind: type[Fact]) -> None:
    obj = {"id": ID, "event": "voided", "occurred_at": PULLED["occurred_at"]}
    assert type(take(obj | {"target": OTHER, "reason": "wrong card"} | subject)) is kind


def test_a_void_of_two_subjects_is_refused() -> None:
    obj = PULLED | {"event": "voided", "drive": "RAID-1", "target": OTHER, "reason": "wrong"}
    del obj["bytes"]
    assert fields(obj) == ["drive"]


def test_every_field_at_fault_is_named() -> None:
    obj = PULLED | {"id": "7", "card": " S-014", "bytes": -1, "clips": True, "byts": 5}
    del obj["occurred_at"]
    named = fields(obj)
    assert set(named) == {"bytes", "byts", "card", "clips", "id", "occurred_at"}
    assert len(named) == 6


def test_the_nearest_names_are_suggested() -> None:
    assert "the nearest is bytes" in faults(PULLED | {"byts": 5})[0].message
    assert "the nearest is pulled" in faults(PULLED | {"event": "puled"})[0].message
    assert faults({})[0].message == "event: found nothing, expected the name of an event."


def test_a_fault_reads_as_one_sentence() -> None:
    fault = Fault("week.jsonl", 12, "bytes", "-1", "a whole number")
    assert fault.message == "week.jsonl, line 12, bytes: found -1, expected a whole number."


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("bytes", -1),
        ("bytes", True),
        ("bytes", 1.0),
        ("bytes", "480"),
        ("bytes", 2**53),
        ("bytes", str(2**53 - 1)),
        ("bytes", str(2**63)),
        ("bytes", "09007199254740993"),
        ("bytes", None),
        ("bytes", "9" * 5_000),
        ("clips", -1),
        ("seconds", -0.5),
        ("seconds", float("nan")),
        ("seconds", float("inf")),
        ("seconds", 10**400),
        ("seconds", "12"),
        ("measured", 1),
        ("measured", "true"),
        ("unmounted", None),
        ("scenes", "12A"),
        ("scenes", ["12A", ""]),
        ("scenes", [["12A"]]),
        ("card", ""),
        ("card", "S-014 "),
        ("card", "S\u00a0014"),
        ("card", "S\n014"),
        ("card", "S\u202e014"),
        ("card", "\ud800"),
        ("card", "x" * 61),
        ("card", 14),
        ("id", "00000000-0000-0000-0000-000000000000"),
        ("id", ID.replace("-", "")),
        ("id", ID + "\n"),
        ("tapped_by", "   "),
        ("tapped_by", "x" * 10_001),
        ("tapped_by", "a\0b"),
        ("sent_at", "yesterday"),
        ("occurred_at", "2026-03-02T16:05:00"),
        ("occurred_at", "2026-03-02 16:05:00Z"),
        ("occurred_at", "2026-03-02T16:05Z"),
        ("occurred_at", "2026-02-30T16:05:00Z"),
        ("occurred_at", "2026-03-02T24:00:00Z"),
        ("occurred_at", "2026-03-02T16:05:60Z"),
        ("occurred_at", "2026-03-02T16:05:00.1234567Z"),
        ("occurred_at", "2026-03-02T16:05:00+24:00"),
        ("occurred_at", "2026-03-02T16:05:00+02:00:30"),
        ("occurred_at", "20260302T160500Z"),
        ("occurred_at", "2026-W10-1T16:05:00Z"),
        ("occurred_at", "1969-12-31T23:59:59Z"),
        ("occurred_at", "٢٠٢٦-03-02T16:05:00Z"),
        ("occurred_at", 1_772_460_300),
    ],
)
def test_what_cannot_be_is_refused(field: str, value: Any) -> None:
    refused = faults(PULLED | {field: value})
    assert [fault.field for fault in refused] == [field]
    assert refused[0].message.encode("utf-8")


@pytest.mark.parametrize(
    ("event", "wrong"),
    [
        ({"event": "registered", "media": "SSD"}, {"capacity_bytes": 0}),
        ({"event": "damage_noted", "part": "edge", "text": "bent"}, {"severity": 5}),
        ({"event": "damage_noted", "severity": 1, "text": "bent"}, {"part": "corner"}),
        ({"event": "loaded", "camera": "A"}, {"slot": 0}),
        ({"event": "loaded", "camera": "A"}, {"roll": ""}),
        ({"event": "loaded", "camera": "A"}, {"guessed_roll": "A001"}),
        ({"event": "formatted"}, {"where": "kitchen"}),
        ({"event": "copy_checked", "drive": "R", "level": "reread"}, {"proof": "A" * 64}),
        ({"event": "noted"}, {"text": ""}),
    ],
)
def test_each_event_has_its_own_limits(event: dict[str, Any], wrong: dict[str, Any]) -> None:
    obj = {word: PULLED[word] for word in ("id", "card", "occurred_at")}
    assert fields(obj | event | wrong) == list(wrong)


def test_a_rule_of_no_copies_is_no_rule() -> None:
    obj = {"id": ID, "event": "rule_set", "occurred_at": PULLED["occurred_at"]}
    assert fields(obj | {"copies": 0, "level": "reread"}) == ["copies"]


def test_an_override_comes_whole_or_not_at_all() -> None:
    obj = {word: PULLED[word] for word in ("id", "card", "occurred_at")} | {"event": "cleared"}
    assert isinstance(take(obj), Cleared)
    whole = {
        "override_reason": "the second copy follows tonight",
        "authorised_by": "production manager",
        "promise": "second copy",
        "promise_by": "data manager",
        "promise_until": "2026-03-02T23:00:00+02:00",
    }
    assert isinstance(take(obj | whole), Cleared)
    for word, value in whole.items():
        assert fields(obj | whole | {word: None}) == [word]
        rest = {key: whole[key] for key in whole if key != word}
        assert fields(obj | rest) == [word]
        assert len(faults(obj | {word: value})) == 4


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("2026-03-02T14:05:00Z", datetime(2026, 3, 2, 14, 5, tzinfo=UTC)),
        ("2026-03-02t14:05:00z", datetime(2026, 3, 2, 14, 5, tzinfo=UTC)),
        ("2026-03-02T14:05:00.5-00:00", datetime(2026, 3, 2, 14, 5, 0, 500_000, tzinfo=UTC)),
        ("2026-03-02T14:05:00.000001Z", datetime(2026, 3, 2, 14, 5, 0, 1, tzinfo=UTC)),
        # RFC 3339, section 5.8, its second example.
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),
    ],
)
def test_times_come_in_every_spelling_of_rfc_3339_with_an_offset(
    said: str, meant: datetime
) -> None:
    assert take(PULLED | {"occurred_at": said}).occurred_at == meant


def test_ids_are_kept_in_lower_case() -> None:
    assert take(PULLED | {"id": ID.upper()}).id == ID


def test_numbers_beyond_what_json_keeps_travel_as_digits() -> None:
    pulled = take(PULLED | {"bytes": str(2**53)})
    assert isinstance(pulled, Pulled)
    assert pulled.bytes == 2**53
    assert encode(pulled)["bytes"] == "9007199254740992"


def test_what_the_service_adds_is_unknown_from_a_sender() -> None:
    for word in ("logged_at", "origin", "source", "clamped", "by", "card_id"):
        assert fields(PULLED | {word: "x"}) == [word]


def test_an_export_without_its_envelope_is_refused() -> None:
    with pytest.raises(BadInput) as refused:
        decode_envelope(encode(take(PULLED)))
    assert {fault.field for fault in refused.value.faults} == {"logged_at", "origin", "source"}


def test_a_plan_needs_a_card_and_a_camera_on_each_line() -> None:
    obj = {"id": ID, "event": "plan_committed", "occurred_at": PULLED["occurred_at"]}
    obj |= {"day": "2026-03-02"}
    assert take(obj | {"lines": [{"card": "S-014", "camera": "A", "reason": "rested"}]})
    deep: Any = "bottom"
    for _ in range(50):
        deep = [deep]
    wrong: list[Any] = [
        [{"card": "S-014"}],
        ["S-014"],
        [{"card": "S", "camera": "A", "x": deep}],
        {},
    ]
    for lines in wrong:
        assert fields(obj | {"lines": lines}) == ["lines"]


def test_a_thousand_unknown_fields_do_not_make_a_thousand_faults() -> None:
    assert len(faults(PULLED | {f"x{n}": n for n in range(1_000)})) == 21


@pytest.mark.parametrize("kind", FACTS, ids=lambda kind: kind.__name__)
@given(data=st.data())
def test_every_event_round_trips(kind: type[Fact], data: st.DataObject) -> None:
    fact = data.draw(facts(kind))
    obj = json.loads(json.dumps(encode(fact)))
    assert decode(obj, logged_at=fact.logged_at, origin=fact.origin, source="live") == fact


@given(any_enveloped)
def test_an_export_round_trips_with_all_that_the_service_added(fact: Fact) -> None:
    obj = json.loads(json.dumps(encode(fact, envelope=True)))
    again = decode_envelope(obj)
    assert again == fact
    assert type(again) is type(fact)


_anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)


@given(any_fact, st.data())
def test_any_value_in_any_field_is_taken_or_named(fact: Fact, data: st.DataObject) -> None:
    obj = encode(fact)
    word = data.draw(st.sampled_from(sorted(obj)))
    try:
        take(obj | {word: data.draw(_anything)})
    except BadInput as refused:
        assert refused.faults
        assert all(fault.message.encode() for fault in refused.faults)
