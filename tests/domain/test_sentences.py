"""A card's history is told in sentences: each event has one, in the crew's words."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given

from tests.wire.strategies import any_enveloped
from tracker.domain import facts as f
from tracker.domain.sentences import sentence

AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
GB = 10**9


def told(kind: type[f.Fact], **fields: Any) -> str:
    if issubclass(kind, f.CardFact):
        fields = {"card": "S-014"} | fields
    return sentence(kind(id="1", occurred_at=AT, logged_at=AT, origin="here", **fields))


@given(any_enveloped)
def test_every_fact_is_told_in_one_sentence_that_says_nothing_of_unknowns(fact: f.Fact) -> None:
    said = sentence(fact)
    assert said[0] == said[0].upper()
    assert said.endswith(".")
    assert not said.endswith("..")
    assert "\n" not in said


@pytest.mark.parametrize(
    ("kind", "fields", "said"),
    [
        (
            f.Registered,
            {"media": "CFx", "capacity_bytes": 512 * GB, "visiting": True},
            "Registered as a visiting card: CFx, 512 GB.",
        ),
        (f.CheckedIn, {"found": "empty"}, "Checked in: empty."),
        (
            f.Loaded,
            {"camera": "A", "slot": 2, "guessed_roll": "A007", "loaded_as": "mirror"},
            "Loaded into camera A, slot 2 as A007?, mirror.",
        ),
        (f.Formatted, {"where": "camera"}, "Formatted in a camera."),
        (
            f.Formatted,
            {"where": "computer", "file_system": "exfat"},
            "Formatted on a computer to exfat.",
        ),
        (f.Formatted, {"where": "return"}, "Wiped before going back."),
        (f.Pulled, {}, "Pulled from the camera."),
        (
            f.Pulled,
            {"clips": 1, "unmounted": False},
            "Pulled from the camera, 1 clip, typed, without unmounting.",
        ),
        (
            f.Pulled,
            {"clips": 1_234_567, "measured": True},
            "Pulled from the camera, 1,234,567 clips, counted by a reader.",
        ),
        (
            f.CopyStarted,
            {"drive": "SHUTTLE", "made_from": "RAID", "roll_id": "7"},
            "Copy of one roll to SHUTTLE started from RAID.",
        ),
        (
            f.CopyChecked,
            {"drive": "RAID", "roll": "A001", "level": "listed"},
            "Copy of roll A001 on RAID checked: listed, with no proof named.",
        ),
        (f.RollRenamed, {"roll": "A001", "new_name": "A001"}, "Roll A001 confirmed by name."),
        (
            f.Cleared,
            {
                "override_reason": "no drives",
                "authorised_by": "Noor",
                "promise": "a copy",
                "promise_by": "Kim",
                "promise_until": AT,
            },
            "Cleared against the rule (no drives), authorised by Noor; Kim promised: a copy, "
            "until 2026-03-02 08:00 UTC.",
        ),
        (f.Noted, {"text": "taped.\nTwice."}, "Note: taped. Twice."),
        (
            f.RuleSet,
            {"copies": 1, "level": "listed", "receipt": True, "hold_days": 1, "off_site": 1},
            "The backup rule for main rolls: one copy, listed, 1 of them off site, received as "
            "good by post, kept on the card for 1 day, before a card is formatted.",
        ),
        (
            f.CameraSet,
            {"letters": "A", "unit": "main", "takes": "CFx", "needs_write_bytes_per_s": 33 * 10**7},
            "Camera A of the main unit, takes CFx, needs 330 MB/s.",
        ),
    ],
)
def test_what_happened_is_said_as_the_crew_says_it(
    kind: type[f.Fact], fields: dict[str, Any], said: str
) -> None:
    assert told(kind, **fields) == said


def test_every_kind_of_fact_has_its_sentence() -> None:
    from tracker.domain.sentences import _SAID  # noqa: PLC0415

    assert set(_SAID) == set(f.FACTS)


def test_a_taking_back_names_what_it_took_back() -> None:
    common: dict[str, Any] = {"occurred_at": AT, "logged_at": AT, "origin": "here", "card": "S-014"}
    pulled = f.Pulled(id="1", clips=3, **common)
    void = f.Voided(id="2", target="1", reason="wrong card", **common)
    back = f.Voided(id="3", target="2", reason="taken back", **common)
    beside: dict[str, f.Fact] = {fact.id: fact for fact in (pulled, void, back)}
    assert sentence(void) == "An earlier entry was a mistake: wrong card."
    assert sentence(void, beside) == (
        "An earlier entry was a mistake: wrong card "
        "(it said: pulled from the camera, 3 clips, typed)."
    )
    assert sentence(back, beside).endswith(
        "(it said: an earlier entry was a mistake: wrong card "
        "(it said: pulled from the camera, 3 clips, typed))."
    )


def test_two_that_take_each_other_back_are_told_all_the_same() -> None:
    common: dict[str, Any] = {"occurred_at": AT, "logged_at": AT, "origin": "here", "card": "S-014"}
    one = f.Voided(id="1", target="2", reason="wrong", **common)
    two = f.Voided(id="2", target="1", reason="right", **common)
    itself = f.Voided(id="3", target="3", reason="odd", **common)
    beside: dict[str, f.Fact] = {fact.id: fact for fact in (one, two, itself)}
    assert "(it said: an earlier entry was a mistake: right)" in sentence(one, beside)
    assert sentence(itself, beside) == "An earlier entry was a mistake: odd."
