"""Doubts: what the facts of several cards together make suspicious, looked at and never kept."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.stories import Story, production
from tracker.domain import facts as f
from tracker.domain.doubts import doubts, stale_copying


def doubted(told: Story) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    """Each doubt by kind, cards and rolls."""
    whole = told.production
    return [(one.kind, one.cards, one.rolls) for one in doubts(whole, whole.views())]


def camera(told: Story, letters: str, slots: int) -> Story:
    told.tell(f.CameraSet, letters=letters, unit="main", slots=slots)
    return told


def two_cards() -> Story:
    return production().card("S-014").card("S-015")


def in_turn(told: Story, *labels: str, camera: str = "A", slot: int | None = None) -> Story:
    for number, label in enumerate(labels, 1):
        told.card(label, register=False).loaded(camera, f"{camera}00{number}", slot=slot)
    return told


def test_a_second_card_in_a_camera_of_one_slot_means_that_the_first_is_probably_out() -> None:
    told = in_turn(two_cards(), "S-014", "S-015")
    assert doubted(told) == [("probably out", ("S-014",), ("A001",))]


def test_a_camera_of_two_slots_takes_two_cards_and_not_three() -> None:
    told = camera(production().card("S-014").card("S-015").card("S-016"), "A", 2)
    assert doubted(in_turn(told, "S-014", "S-015")) == []
    told.card("S-016", register=False).loaded("A", "A003")
    assert doubted(told) == [("probably out", ("S-014",), ("A001",))]


def test_two_cards_in_the_same_slot_are_one_too_many() -> None:
    told = in_turn(camera(two_cards(), "A", 2), "S-014", "S-015", slot=1)
    assert doubted(told) == [("probably out", ("S-014",), ("A001",))]


def test_two_cameras_do_not_doubt_each_other() -> None:
    told = two_cards().card("S-014", register=False).loaded("A", "A001")
    assert doubted(told.card("S-015", register=False).loaded("B", "B001")) == []


def test_said_in_again_it_is_the_other_that_is_probably_out() -> None:
    told = in_turn(two_cards(), "S-014", "S-015")
    told.card("S-014", register=False).loaded("A", "A001")
    assert doubted(told) == [("probably out", ("S-015",), ("A002",))]


def test_said_out_there_is_no_doubt() -> None:
    told = in_turn(two_cards(), "S-014", "S-015")
    assert doubted(told.card("S-014", register=False).pulled(480)) == []


def test_a_name_used_twice_is_told_once() -> None:
    told = two_cards().card("S-014", register=False).shot("A001")
    told.card("S-015", register=False).shot("A001")
    assert doubted(told) == [("name used twice", ("S-014", "S-015"), ("A001",))]


@pytest.mark.parametrize("role", ["mirror", "proxy"])
def test_a_mirror_and_a_proxy_have_the_name_of_their_main_roll(role: str) -> None:
    told = two_cards().card("S-014", register=False).loaded("A", "A001").pulled(480)
    told.card("S-015", register=False).loaded("A", "A001", loaded_as=role).pulled(480)
    assert doubted(told) == []


def test_a_roll_that_was_resumed_or_formatted_while_resumed_is_no_second_use() -> None:
    told = production().card("S-014").shot("A001").loaded("A", "A001").formatted("camera", "A")
    assert doubted(told) == []


def test_a_mirror_wiped_before_its_main_roll_is_covered_is_doubtful() -> None:
    told = two_cards().card("S-014", register=False).loaded("A", "A001").pulled(480)
    told.card("S-015", register=False).loaded("A", "A001", loaded_as="mirror").pulled(480)
    told.formatted("camera", "A")
    assert doubted(told) == [("mirror wiped early", ("S-015",), ("A001",))]


def test_a_mirror_wiped_after_its_main_roll_is_covered_is_not() -> None:
    told = two_cards().card("S-014", register=False).loaded("A", "A001").pulled(480)
    told.card("S-015", register=False).loaded("A", "A001", loaded_as="mirror").pulled(480)
    told.card("S-014", register=False).checked("RAID").checked("SHUTTLE")
    told.card("S-015", register=False).formatted("camera", "A")
    assert doubted(told) == []


def test_a_guessed_name_is_unsure_until_it_is_confirmed_by_the_same_name() -> None:
    told = production().card("S-014").loaded("A", None, guessed_roll="A007")
    assert doubted(told) == [("name unsure", ("S-014",), ("A007",))]
    assert doubted(told.renamed("A007", "A007")) == []


def test_a_guessed_name_is_sure_once_the_camera_gave_its_own() -> None:
    told = production().card("S-014").loaded("A", None, guessed_roll="A007")
    assert doubted(told.renamed("A007", "A008")) == []


def plan(told: Story, *lines: dict[str, str]) -> Story:
    told.tell(f.PlanCommitted, day="2026-03-02", lines=tuple(lines))
    return told


def test_another_card_than_planned_is_doubtful_and_the_planned_one_is_not() -> None:
    told = plan(two_cards(), {"card": "S-014", "camera": "A"})
    assert doubted(told.card("S-014", register=False).loaded("A", "A001")) == []
    other = plan(two_cards(), {"card": "S-014", "camera": "A"})
    other.card("S-015", register=False).loaded("A", "A001")
    assert doubted(other) == [("planned otherwise", ("S-015",), ("A001",))]


def test_a_card_that_went_in_before_the_plan_is_not_judged_by_it() -> None:
    told = two_cards().card("S-015", register=False).loaded("A", "A001")
    assert doubted(plan(told, {"card": "S-014", "camera": "A"})) == []


def test_the_last_plan_for_a_camera_counts() -> None:
    told = plan(two_cards(), {"card": "S-014", "camera": "A"})
    plan(told, {"card": "S-015", "camera": "A"})
    assert doubted(told.card("S-015", register=False).loaded("A", "A001")) == []


@pytest.mark.parametrize(("minutes", "kinds"), [(120, []), (121, ["stale copying"])])
def test_a_copy_under_way_for_more_than_twice_its_time_is_stale(
    minutes: int, kinds: list[str]
) -> None:
    told = production().card("S-014").shot("A001").started("RAID", at="10:00")
    whole = told.production
    (copy,) = told.roll("A001").copies.values()
    assert copy.attempt is not None
    now = copy.attempt.at[0] + timedelta(minutes=minutes)
    found = stale_copying(whole.context, whole.views(), now, lambda roll, drive: timedelta(hours=1))
    assert [one.kind for one in found] == kinds


def test_a_finished_copy_is_never_stale() -> None:
    told = production().card("S-014").shot("A001").started("RAID").finished("RAID")
    whole = told.production
    late = told.view().state.rolls["loaded 1"].opened[0] + timedelta(days=9)
    assert stale_copying(whole.context, whole.views(), late, lambda r, d: timedelta()) == []
