"""Proxies have a rule of their own; a mirror holds the same pictures as a main card."""

from __future__ import annotations

import pytest

from tests.stories import Story, production


def pair(main: str = "A001", mirror: str = "A001", as_: str = "main") -> Story:
    """S-014 is the main card of camera A, S-015 its mirror; both are out of the camera."""
    told = production().card("S-014").loaded("A", main, loaded_as=as_, formatted=True)
    told.card("S-015").loaded("A", mirror, loaded_as="mirror", formatted=True, slot=2)
    told.card("S-014").pulled(gb=480)
    return told.card("S-015").pulled(gb=480)


def main_backed_up(told: Story) -> Story:
    return told.card("S-014").backed_up().card("S-015")


def test_a_proxy_is_covered_by_one_listed_copy() -> None:
    told = production().card("S-014").loaded("A", "P001", loaded_as="proxy", formatted=True)
    told.pulled(gb=5)
    assert told.stands == ("exposed", [])
    assert told.checked("RAID", "claimed").stands == ("copied", [])
    assert told.checked("RAID", "listed").stands == ("backed up", [])


def test_a_mirror_waits_for_its_main_roll() -> None:
    assert pair().stands == ("exposed", [])


@pytest.mark.parametrize("as_", ["main", "continues"])
def test_a_mirror_is_covered_while_its_main_roll_is(as_: str) -> None:
    told = main_backed_up(pair(as_=as_))
    assert told.stands == ("backed up", [])
    assert told.below == []
    assert told.card("S-014").drive_lost("RAID").card("S-015").stands == ("exposed", [])
    assert told.drive_found("RAID").stands == ("backed up", [])


def test_a_mirror_may_be_cleared_and_wiped_while_its_main_roll_is_covered() -> None:
    told = main_backed_up(pair()).cleared()
    assert told.stands == ("cleared", [])
    assert told.formatted("camera", "A").stands == ("ready", [])


def test_a_mirror_cleared_before_its_main_roll_was_covered_is_a_mishap() -> None:
    told = main_backed_up(pair().cleared())
    assert told.stands == ("backed up", [("cleared_uncovered", None)])


def test_a_mirror_that_was_wiped_is_covered_no_more_when_its_main_roll_is_not() -> None:
    told = main_backed_up(pair()).cleared().formatted("camera", "A").drive_lost("RAID")
    assert told.stands == ("ready", [("covered_no_more", "A001")])


def test_a_mirror_is_not_covered_while_its_main_roll_is_open() -> None:
    told = main_backed_up(pair()).card("S-014").loaded("A", "A001").card("S-015")
    assert told.stands == ("exposed", [])


def test_a_mirror_is_covered_by_copies_of_its_own_under_the_main_rule() -> None:
    told = pair().checked("RAID", "listed")
    assert told.stands == ("exposed", [])
    assert told.checked("RAID").checked("SHUTTLE").stands == ("backed up", [])


def test_a_mirror_that_post_calls_bad_is_not_covered_by_its_main_roll() -> None:
    told = main_backed_up(pair()).received("A001", "bad")
    assert told.stands == ("exposed", [("post_says_bad", "A001")])


def test_a_mirror_owes_nothing_when_it_is_written_off() -> None:
    assert pair().written_off("A001").stands == ("ready", [])


def test_a_mirror_is_covered_only_by_a_roll_of_its_name() -> None:
    assert main_backed_up(pair(mirror="A002")).stands == ("exposed", [])


def test_a_mirror_is_covered_by_a_main_roll_that_was_renamed_to_its_name() -> None:
    told = main_backed_up(pair(main="A009")).card("S-014").renamed("A009", "A001").card("S-015")
    assert told.stands == ("backed up", [])


def test_a_mirror_is_covered_though_its_main_roll_was_wiped() -> None:
    told = main_backed_up(pair()).card("S-014").cleared().formatted("camera", "A")
    assert told.card("S-015").stands == ("backed up", [])


@pytest.mark.parametrize("as_", ["mirror", "proxy"])
def test_a_mirror_is_not_covered_by_another_mirror_or_a_proxy(as_: str) -> None:
    assert main_backed_up(pair(as_=as_)).stands == ("exposed", [])


def test_of_two_main_rolls_of_its_name_the_one_loaded_nearest_in_time_covers_a_mirror() -> None:
    """A001 of the first day is covered; the mirror is of A001 of the fourth."""
    told = production().card("S-016").shot("A001").backed_up().day(4)
    told.card("S-014").loaded("A", "A001", formatted=True)
    told.card("S-015").loaded("A", "A001", loaded_as="mirror", formatted=True, slot=2).pulled()
    told.card("S-014").pulled(gb=480).card("S-015")
    assert told.stands == ("exposed", [])
    assert main_backed_up(told).stands == ("backed up", [])


def test_the_main_roll_may_be_on_a_card_that_was_logged_later() -> None:
    told = production().card("S-015").loaded("A", "A001", loaded_as="mirror", formatted=True)
    told.pulled(gb=480).card("S-014").shot("A001").backed_up().card("S-015")
    assert told.stands == ("backed up", [])
