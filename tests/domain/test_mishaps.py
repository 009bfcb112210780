"""Mishaps: made by facts, each with a severity; settled by a person, or by the facts in order."""

from __future__ import annotations

import pytest

from tests.stories import Story, production, story
from tracker.domain.mishaps import KINDS

DANGERS = {
    "formatted_uncovered",
    "formatted_late",
    "found_empty",
    "loaded_uncovered",
    "loaded_unfit",
    "left_uncovered",
    "card_unreadable",
    "copy_short",
    "copy_differs",
    "cleared_uncovered",
    "cleared_by_override",
    "covered_no_more",
    "post_says_bad",
}
WARNINGS = {
    "formatted_on_computer",
    "wrong_file_system",
    "pull_missing",
    "pulled_unlogged",
    "over_capacity",
}
NOTES = {"formatted_uncleared", "pulled_mounted", "copy_of_nothing", "order_doubtful"}
OF_THE_CARD = {
    "formatted_uncleared",
    "formatted_on_computer",
    "wrong_file_system",
    "loaded_unfit",
    "pulled_mounted",
    "copy_of_nothing",
    "cleared_uncovered",
    "cleared_by_override",
    "order_doubtful",
}


def test_each_mishap_has_its_severity() -> None:
    by_severity = {
        severity: {kind for kind, said in KINDS.items() if said.severity == severity}
        for severity in ("danger", "warning", "note")
    }
    assert by_severity == {"danger": DANGERS, "warning": WARNINGS, "note": NOTES}


def test_each_mishap_says_what_happened_and_what_to_do_now() -> None:
    assert all(kind.says and kind.to_do for kind in KINDS.values())


def test_some_mishaps_are_of_the_card_and_the_others_of_a_roll() -> None:
    assert {kind for kind, said in KINDS.items() if said.of_card} == OF_THE_CARD


def test_a_mishap_of_a_card_has_one_key_for_each_fact() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").pulled(gb=1).backed_up()
    told.formatted("computer").formatted("computer")
    keys = [tuple(mishap.key) for mishap in told.view().mishaps]
    assert sorted(keys, key=str) == [
        ("formatted 1", "formatted_on_computer", None, None),
        ("formatted 1", "formatted_uncleared", None, None),
        ("formatted 2", "formatted_on_computer", None, None),
        ("loaded 2", "loaded_uncovered", "loaded 1", None),
    ]


@pytest.mark.parametrize("unfit", [Story.set_aside, Story.retired, Story.reported_missing])
def test_a_card_that_is_not_fit_and_is_loaded_is_in_danger(unfit) -> None:
    told = story("S-014").formatted("camera", "A")
    unfit(told)
    told.loaded("A", "A001")
    assert told.mishaps == [("loaded_unfit", None)]


def test_a_card_that_is_fit_again_may_be_loaded() -> None:
    told = story("S-014").formatted("camera", "A").set_aside().returned_to_service()
    assert told.loaded("A", "A001").stands == ("loaded", [])
    told = story("S-014").formatted("camera", "A").reported_missing().found()
    assert told.loaded("A", "A001").stands == ("loaded", [])


def test_a_card_retired_with_an_uncovered_roll_takes_it_along() -> None:
    told = story("S-014").shot("A001").backed_up().loaded("B", "B003").pulled(gb=1).retired()
    assert told.stands == ("retired", [("left_uncovered", "B003")])


def test_a_card_retired_with_nothing_uncovered_takes_nothing_along() -> None:
    assert story("S-014").shot("A001").backed_up().retired().stands == ("retired", [])


def test_a_card_handed_over_outside_the_production_takes_its_roll_along() -> None:
    for outside in ({"outside": True}, {"place": "rental house"}):
        told = story("S-014").shot("A001").handed_over(**outside)
        assert told.stands == ("exposed", [("left_uncovered", "A001")])


def test_a_card_handed_over_within_the_production_does_not() -> None:
    told = story("S-014").shot("A001").handed_over("other unit").handed_over("driver")
    assert told.stands == ("exposed", [])


def test_a_card_handed_over_outside_straight_from_the_camera() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).handed_over("lab", outside=True)
    assert told.stands == ("exposed", [("left_uncovered", "A001"), ("pull_missing", "A001")])


# Covered no more


def wiped() -> Story:
    told = story("S-014").shot("A001").backed_up().cleared()
    return told.formatted("camera", "A").drive_failed("RAID")


def test_a_roll_that_was_covered_when_its_card_was_wiped_and_is_not_now() -> None:
    """The mishap stands while that is so: another copy ends it."""
    told = wiped()
    assert told.stands == ("ready", [("covered_no_more", "A001")])
    told.finished("VAULT", roll="A001", made_from="SHUTTLE").checked("VAULT")
    assert told.stands == ("ready", [])


def test_a_roll_that_was_not_covered_when_its_card_was_wiped_is_another_mishap() -> None:
    told = story("S-014").shot("A001").checked("RAID").formatted("camera", "A")
    told.drive_lost("RAID")
    assert told.stands == ("ready", [("formatted_uncovered", "A001")])


def test_a_roll_that_is_still_on_the_card_is_exposed_and_no_mishap() -> None:
    told = story("S-014").shot("A001").backed_up().drive_failed("RAID")
    assert told.stands == ("exposed", [])


def test_a_loss_that_somebody_settled_does_not_stand() -> None:
    told = wiped().settled("formatted 1", "covered_no_more")
    assert told.stands == ("ready", [])
    assert told.below == ["A001"]


# Settled


def two_in_danger() -> Story:
    """Loaded with two uncovered rolls on the card."""
    told = story("S-014").shot("A001").loaded("A", "A002").pulled(gb=1).loaded("B", "B003")
    return told.settled("loaded 2", "loaded_uncovered")


BOTH = [("loaded_uncovered", "A001"), ("loaded_uncovered", "A002")]


def test_a_person_settles_a_mishap_with_a_reason() -> None:
    assert two_in_danger().mishaps == BOTH
    assert two_in_danger().settled("loaded 3", "loaded_uncovered").mishaps == []


def test_a_settled_mishap_stays_readable() -> None:
    told = two_in_danger()
    settled = [m for m in told.state.mishaps.values() if m.settled_by == "settled 1"]
    assert [(m.key.fact, m.stands) for m in settled] == [("loaded 2", False)]


def test_a_settlement_may_be_of_one_roll_only() -> None:
    told = two_in_danger().settled("loaded 3", "loaded_uncovered", roll="A001")
    assert told.mishaps == [("loaded_uncovered", "A002")]


def test_a_settlement_may_be_of_one_drive_only() -> None:
    told = story("S-014").shot("A001").finished("RAID").failed("RAID", "differs")
    told.settled("copy_failed 1", "copy_differs", drive="SHUTTLE")
    assert told.mishaps == [("copy_differs", "A001")]
    assert told.settled("copy_failed 1", "copy_differs", drive="RAID").mishaps == []


def test_a_settlement_is_of_the_fact_and_the_kind_that_it_names() -> None:
    told = two_in_danger().settled("loaded 1", "loaded_uncovered")
    assert told.settled("loaded 3", "loaded_unfit").mishaps == BOTH


def test_a_settlement_is_of_the_card_that_it_names() -> None:
    told = two_in_danger().card("S-015").settled("loaded 3", "loaded_uncovered")
    assert told.card("S-014").mishaps == BOTH


def test_a_settlement_that_is_voided_settles_nothing() -> None:
    told = two_in_danger().settled("loaded 3", "loaded_uncovered").voids("settled 2")
    assert told.mishaps == BOTH


def test_a_mishap_settles_itself_when_the_facts_in_order_no_longer_make_it() -> None:
    """The check that was wanting is logged late: when the card was loaded, it had been made."""
    told = story("S-014").shot("A001").checked("RAID").loaded("B", "B003", at="12:00")
    assert told.stands == ("loaded", [("loaded_uncovered", "A001")])
    assert told.late("11:00").checked("SHUTTLE", roll="A001").stands == ("loaded", [])


def test_a_mishap_of_one_card_is_no_mishap_of_another() -> None:
    told = production().card("S-015").shot("A001").card("S-014").shot("B001").loaded("A", "A002")
    assert told.card("S-015").stands == ("exposed", [])


def test_a_time_that_its_device_may_not_claim_is_a_note() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True, clamped=True)
    assert told.stands == ("loaded", [("order_doubtful", None)])


@pytest.mark.parametrize("kind", sorted(DANGERS - {"covered_no_more"}))
def test_every_danger_puts_the_card_first(kind: str) -> None:
    told = story("S-014").shot("A001").checked("RAID")
    {
        "formatted_uncovered": lambda: told.formatted("camera", "A"),
        "formatted_late": lambda: told.loaded("A", at="12:00").formatted("camera", at="13:00"),
        "found_empty": lambda: told.checked_in("empty"),
        "loaded_uncovered": lambda: told.loaded("B"),
        "loaded_unfit": lambda: told.set_aside().loaded("B"),
        "left_uncovered": told.retired,
        "card_unreadable": lambda: told.started("VAULT").failed("VAULT", "unreadable"),
        "copy_short": lambda: told.failed("RAID", "short"),
        "copy_differs": lambda: told.failed("RAID", "differs"),
        "cleared_uncovered": told.cleared,
        "cleared_by_override": told.overridden,
        "post_says_bad": lambda: told.received("A001", "bad"),
    }[kind]()
    assert kind in [made for made, _ in told.mishaps]
    assert told.view().in_danger
