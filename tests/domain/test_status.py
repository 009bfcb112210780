"""The status of a card: the first that applies, the most urgent to know first."""

from __future__ import annotations

import pytest

from tests.stories import Story, story
from tracker.domain.rule import BackupRule
from tracker.domain.status import STATUSES


def test_there_are_eleven_statuses() -> None:
    assert len(set(STATUSES)) == len(STATUSES) == 11


def test_retired_comes_before_everything() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).set_aside().reported_missing()
    assert told.retired().stands == ("retired", [("left_uncovered", "A001")])


def test_missing_comes_before_set_aside() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).set_aside().reported_missing()
    assert told.stands == ("missing", [])


def test_set_aside_comes_before_loaded() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).set_aside()
    assert told.stands == ("set aside", [])


def test_loaded_comes_before_what_the_closed_rolls_say() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().loaded("B", "B003")
    assert told.stands == ("loaded", [])


def test_a_card_is_copying_when_each_uncovered_roll_has_a_copy_under_way() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").pulled(gb=1)
    told.settled("loaded 2", "loaded_uncovered").started("RAID", roll="A001")
    assert told.stands == ("exposed", [])
    assert told.started("SHUTTLE", roll="B003").stands == ("copying", [])


def test_a_covered_roll_needs_no_copy_under_way() -> None:
    told = story("S-014").shot("A001").backed_up().loaded("B", "B003").pulled(gb=1)
    assert told.started("RAID", roll="B003").stands == ("copying", [])


def test_copying_comes_before_copied() -> None:
    told = story("S-014").shot("A001").finished("RAID").finished("SHUTTLE")
    assert told.stands == ("copied", [])
    assert told.started("VAULT").stands == ("copying", [])


def test_a_card_is_copied_when_each_uncovered_roll_wants_only_the_level() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").pulled(gb=1)
    told.settled("loaded 2", "loaded_uncovered").finished("RAID", roll="A001")
    told.finished("SHUTTLE", roll="A001").finished("RAID", roll="B003")
    assert told.stands == ("exposed", [])
    assert told.finished("SHUTTLE", roll="B003").stands == ("copied", [])


@pytest.mark.parametrize(
    "rule",
    [
        BackupRule(copies=3),
        BackupRule(copies=2, kinds=3),
        BackupRule(copies=2, off_site=1),
        BackupRule(copies=2, receipt=True),
    ],
)
def test_a_card_that_wants_more_than_the_level_is_exposed(rule: BackupRule) -> None:
    told = story("S-014", rule=rule).shot("A001").finished("RAID").finished("SHUTTLE")
    assert told.stands == ("exposed", [])


def test_one_roll_copying_and_one_copied_make_a_card_exposed() -> None:
    told = story("S-014").shot("A001").finished("RAID").finished("SHUTTLE")
    told.loaded("B", "B003").pulled(gb=1).started("RAID", roll="B003")
    assert told.stands == ("exposed", [("loaded_uncovered", "A001")])


def test_an_override_comes_before_copying() -> None:
    told = story("S-014").shot("A001").overridden().started("RAID")
    assert told.stands == ("cleared", [("cleared_by_override", None)])


def test_a_card_that_holds_nothing_that_owes_is_ready_after_a_format_in_a_camera() -> None:
    told = story("S-014").shot("A001").written_off("A001")
    assert told.stands == ("ready", [])


def test_a_card_that_holds_nothing_that_owes_is_else_cleared() -> None:
    told = story("S-014").checked_in("empty").loaded("A", "A001").pulled(gb=1)
    assert told.written_off("A001").stands == ("cleared", [])


def test_a_visiting_card_is_backed_up_where_others_are_ready_or_cleared() -> None:
    told = story("S-014", visiting=True).checked_in("footage").backed_up()
    assert told.stands == ("backed up", [])
    told = story("S-014", visiting=True).shot("A001").written_off("A001")
    assert told.stands == ("backed up", [])


@pytest.mark.parametrize("gone", [Story.set_aside, Story.reported_missing, Story.retired])
def test_a_card_gone_with_the_only_copy_shows_what_it_holds(gone) -> None:
    """The open roll too: it is the worst case, and stands first."""
    told = story("S-014").shot("A001").loaded("B", "B003")
    assert told.uncovered == ["A001"]
    gone(told)
    assert told.status in ("set aside", "missing", "retired")
    assert told.uncovered == ["A001", "B003"]
    assert told.view().in_danger


@pytest.mark.parametrize("gone", [Story.set_aside, Story.reported_missing, Story.retired])
def test_a_card_gone_with_nothing_uncovered_is_in_no_danger(gone) -> None:
    told = story("S-014").shot("A001").backed_up()
    gone(told)
    assert told.uncovered == []
    assert not told.view().in_danger


def test_uncovered_rolls_are_shown_whatever_the_status() -> None:
    told = story("S-014").shot("A001")
    assert told.uncovered == ["A001"]
    assert told.started("RAID").uncovered == ["A001"]
    assert told.finished("RAID").finished("SHUTTLE").uncovered == ["A001"]
    assert told.overridden().uncovered == ["A001"]


@pytest.mark.parametrize(
    "seen",
    [
        lambda told: told.loaded("A"),
        lambda told: told.pulled(gb=1),
        lambda told: told.formatted("camera", "A"),
        lambda told: told.handed_over("cart"),
        lambda told: told.handed_over("camera crew"),
        lambda told: told.checked_in("footage"),
        lambda told: told.started("RAID"),
        lambda told: told.finished("RAID"),
        Story.found,
    ],
)
def test_a_missing_card_that_something_happens_to_has_been_found(seen) -> None:
    told = story("S-014").shot("A001").reported_missing()
    assert told.status == "missing"
    seen(told)
    assert told.status != "missing"


@pytest.mark.parametrize(
    "other",
    [
        lambda told: told.checked("SHUTTLE"),
        lambda told: told.started("SHUTTLE", made_from="RAID"),
        lambda told: told.finished("SHUTTLE", made_from="RAID"),
        lambda told: told.failed("RAID"),
        lambda told: told.copy_lost("RAID"),
        lambda told: told.noted("last seen on the truck"),
        lambda told: told.damaged(1),
        lambda told: told.received("A001", "good"),
    ],
)
def test_a_missing_card_stays_missing_while_nobody_has_had_it(other) -> None:
    told = story("S-014").shot("A001").finished("RAID").reported_missing()
    other(told)
    assert told.status == "missing"


@pytest.mark.parametrize("gone", [Story.set_aside, Story.reported_missing])
def test_a_card_gone_with_the_only_copy_is_in_danger_though_nobody_broke_a_rule(gone) -> None:
    told = story("S-014").shot("A001")
    assert not told.view().in_danger
    gone(told)
    assert told.mishaps == []
    assert told.view().in_danger
