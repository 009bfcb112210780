"""Which rolls owe a backup: all but those known to be empty, and those written off."""

from __future__ import annotations

import pytest

from tests.stories import GB, Story, story


def shot(gb: float | None, **fields: int | bool) -> Story:
    return story("S-014").loaded("A", "A001", formatted=True).pulled(gb=gb, **fields)


def test_a_typed_zero_is_not_trusted() -> None:
    assert shot(gb=0).stands == ("exposed", [])


def test_a_typed_zero_owes_until_a_data_manager_declares_it_empty() -> None:
    told = shot(gb=0).declared_empty("A001")
    assert told.stands == ("ready", [])
    assert told.holds == []
    assert told.view().cycles == 0


def test_a_measured_zero_is_trusted() -> None:
    told = shot(gb=0, measured=True)
    assert told.stands == ("ready", [])
    assert told.holds == []


def test_an_unknown_size_is_not_zero() -> None:
    assert shot(gb=None, measured=True).stands == ("exposed", [])


def test_a_measured_zero_of_bytes_with_clips_is_not_empty() -> None:
    assert shot(gb=0, clips=3, measured=True).stands == ("exposed", [])


def test_a_measured_zero_beats_a_typed_figure_of_the_same_pull() -> None:
    assert shot(gb=300).pulled(gb=0, clips=0, measured=True).stands == ("ready", [])


def test_a_roll_of_unknown_size_may_be_declared_empty() -> None:
    assert shot(gb=None).declared_empty("A001").stands == ("ready", [])


def test_a_roll_of_typed_size_may_be_declared_empty() -> None:
    assert shot(gb=3).declared_empty("A001").stands == ("ready", [])


def test_declared_empty_has_no_effect_while_a_reader_counted_more_than_zero() -> None:
    assert shot(gb=3, measured=True).declared_empty("A001").stands == ("exposed", [])


@pytest.mark.parametrize("measured", [True, False])
def test_declared_empty_has_no_effect_while_a_finished_copy_holds_something(measured) -> None:
    told = shot(gb=0).finished("RAID", gb=3, measured=measured).declared_empty("A001")
    assert told.stands == ("exposed", [])


def test_a_copy_that_holds_nothing_does_not_speak_against_it() -> None:
    told = shot(gb=0).finished("RAID", gb=0).declared_empty("A001")
    assert told.stands == ("ready", [])


def test_a_measured_figure_that_comes_later_takes_declared_empty_back() -> None:
    told = shot(gb=0).declared_empty("A001").pulled(gb=3, measured=True)
    assert told.stands == ("exposed", [])


def test_a_roll_that_is_written_off_owes_nothing() -> None:
    """Who authorised it and why is said: a camera test, a false start."""
    told = shot(gb=3).written_off("A001")
    assert told.stands == ("ready", [])
    assert told.holds == []
    assert told.below == []


def test_a_roll_written_off_owes_nothing_whatever_a_reader_counted() -> None:
    told = shot(gb=3, measured=True).written_off("A001")
    assert told.stands == ("ready", [])


def test_a_roll_written_off_was_a_cycle_all_the_same() -> None:
    told = shot(gb=3).written_off("A001")
    assert told.view().cycles == 1
    assert told.view().bytes_logged == 3 * GB


@pytest.mark.parametrize("said", [Story.declared_empty, Story.written_off])
def test_an_open_roll_always_owes(said) -> None:
    """Nothing is known of it yet: what is said of it now has no effect, then or later."""
    told = story("S-014").loaded("A", "A001", formatted=True)
    said(told, "A001")
    assert told.stands == ("loaded", [])
    assert told.pulled(gb=0).stands == ("exposed", [])


@pytest.mark.parametrize("said", [Story.declared_empty, Story.written_off])
def test_a_roll_that_owes_nothing_counts_as_covered_everywhere(said) -> None:
    """No clearing, no format, no load, no leaving makes a mishap of it."""
    told = said(shot(gb=0), "A001").cleared().checked_in("empty").loaded("B", "B003")
    told.formatted("camera", "B").pulled(gb=0)
    assert said(told, "B003").handed_over("rental house").stands == ("ready", [])


def test_a_card_with_one_roll_that_owes_nothing_goes_by_the_others() -> None:
    told = shot(gb=0).declared_empty("A001").loaded("A", "A002").pulled(gb=5).backed_up()
    assert told.stands == ("backed up", [])
    assert told.holds == ["A002"]
    assert told.cleared().stands == ("cleared", [])


@pytest.mark.parametrize("said", [Story.declared_empty, Story.written_off])
def test_words_about_a_roll_that_the_card_never_held_change_nothing(said) -> None:
    assert said(shot(gb=5), "A099").stands == ("exposed", [])
