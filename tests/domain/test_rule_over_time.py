"""The backup rule changes; what was wiped is judged by the rule of that moment, for ever."""

from __future__ import annotations

import pytest

from tests.stories import Story, story


def test_the_first_rule_counts_from_the_start() -> None:
    """Set on the second day: the clearing of the first day is judged by it."""
    told = story("S-014", rule=None).shot("A001").checked("RAID").cleared()
    assert told.stands == ("exposed", [("cleared_uncovered", None)])
    assert told.day(2).rule_set(copies=1).stands == ("cleared", [])


def test_a_later_rule_acts_from_then_on() -> None:
    told = story("S-014", rule=None).rule_set(copies=1).shot("A001").checked("RAID").cleared()
    assert told.stands == ("cleared", [])
    assert told.rule_set(copies=2).stands == ("exposed", [])
    assert told.finished("SHUTTLE").checked("SHUTTLE").stands == ("cleared", [])


def test_a_looser_rule_covers_what_was_not_but_mends_no_clearing() -> None:
    told = story("S-014", rule=None).rule_set(copies=2).shot("A001").checked("RAID").cleared()
    told.rule_set(copies=1)
    assert told.stands == ("backed up", [("cleared_uncovered", None)])


def test_a_wiped_roll_is_judged_for_ever_by_the_rule_in_force_when_it_was_wiped() -> None:
    told = story("S-014", rule=None).rule_set(copies=1).shot("A001").checked("RAID").cleared()
    told.formatted("camera", "A").rule_set(copies=3)
    assert told.stands == ("ready", [])
    assert told.below == []


def test_a_looser_rule_does_not_excuse_a_roll_that_was_wiped_before() -> None:
    told = story("S-014", rule=None).rule_set(copies=2).shot("A001").checked("RAID")
    told.formatted("camera", "A").rule_set(copies=1)
    assert told.stands == ("ready", [("formatted_uncovered", "A001")])
    assert told.below == ["A001"]


def stricter_too_late(told: Story) -> Story:
    """One copy, cleared at 09:00, wiped at 09:30; at 10:00 the rule of 08:45 is logged."""
    told.rule_set(copies=1).loaded("A", "A001", formatted=True).pulled(gb=480)
    told.proof_kept().checked("RAID").cleared(at="09:00").formatted("camera", "A", at="09:30")
    return told.noted("lunch").late("08:45").rule_set(copies=2)


@pytest.mark.parametrize("source", [Story.live, Story.sent])
def test_a_later_rule_acts_from_its_logging_and_never_earlier(source) -> None:
    """What was right when it was done stays right."""
    assert stricter_too_late(source(story("S-014", rule=None))).stands == ("ready", [])


def test_a_later_rule_in_history_acts_from_when_it_happened() -> None:
    told = stricter_too_late(story("S-014", rule=None))
    assert told.stands == ("ready", [("cleared_uncovered", None), ("formatted_uncovered", "A001")])


def test_a_rule_for_proxies_leaves_main_footage_alone() -> None:
    told = story("S-014").rule_set(copies=3, rolls="proxy").shot("A001").backed_up()
    assert told.stands == ("backed up", [])


def proxy(told: Story) -> Story:
    return told.loaded("A", "P001", loaded_as="proxy", formatted=True).pulled(gb=5)


def test_every_rule_for_proxies_is_a_later_one() -> None:
    """Also the first one that is set: until then one listed copy is enough."""
    told = proxy(story("S-014")).checked("RAID", "listed").cleared()
    assert told.rule_set(copies=2, level="listed", rolls="proxy").stands == ("exposed", [])
    wiped = proxy(story("S-014")).checked("RAID", "listed").cleared().formatted("camera", "A")
    assert wiped.rule_set(copies=2, level="listed", rolls="proxy").stands == ("ready", [])


def test_a_rule_that_is_voided_was_never_set() -> None:
    told = story("S-014", rule=None).rule_set(copies=1).shot("A001").checked("RAID").cleared()
    told.rule_set(copies=2).voids("rule_set 2", production=True)
    assert told.stands == ("cleared", [])
