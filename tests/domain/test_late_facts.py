"""Facts are folded in the order in which they happened, whenever they were logged."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from tests.stories import GB, Story, story
from tracker.domain import facts as f
from tracker.domain.fold import in_order


def test_a_pull_that_is_sent_in_the_evening_loses_no_roll() -> None:
    """It happened at 14:05; another phone logged at 15:00 that the card was loaded again."""
    told = story("S-014").loaded("A", "A001", formatted=True, at="09:00")
    told.loaded("B", "B003", at="15:00").noted("wrap")
    assert told.mishaps == [("loaded_uncovered", "A001"), ("pull_missing", "A001")]
    told.late("14:05").pulled(gb=480)
    assert told.stands == ("loaded", [("loaded_uncovered", "A001")])
    assert told.holds == ["A001", "B003"]
    assert told.view().bytes_logged == 480 * GB


def test_copies_that_are_logged_late_were_made_when_they_happened() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003", formatted=True, at="15:00")
    told.late("12:00").checked("RAID", roll="A001").late("12:05").checked("SHUTTLE", roll="A001")
    assert told.stands == ("loaded", [("formatted_uncleared", None)])
    told.late("12:10").cleared()
    assert told.stands == ("loaded", [])


def test_a_load_that_is_logged_late_can_bring_a_mishap_to_light() -> None:
    told = story("S-014").shot("A001").backed_up().cleared(at="12:00").noted("wrap")
    told.late("11:00").loaded("B", "B003")
    assert told.stands == ("loaded", [("cleared_uncovered", None)])


def same_minute(first: str, second: str) -> Story:
    """Two facts of 09:00: they are folded in the order in which they were logged."""
    told = story("S-014").loaded("A", "A001", formatted=True)
    for event in (first, second):
        told.pulled(gb=1, at="09:00") if event == "pulled" else told.cleared(at="09:00")
    return told


def test_of_two_facts_of_the_same_moment_the_one_logged_first_comes_first() -> None:
    told = same_minute("pulled", "cleared").written_off("A001")
    assert told.stands == ("ready", [("cleared_uncovered", None)])
    now = same_minute("cleared", "pulled")
    cleared, pulled = now.facts[-2:]
    assert cleared.occurred_at == pulled.occurred_at
    assert in_order([pulled, cleared]) == [cleared, pulled]


def test_the_order_is_by_time_then_by_logging_then_by_origin_then_by_id() -> None:
    told = story("S-014").noted("a")
    (note,) = (fact for fact in told.facts if isinstance(fact, f.Noted))
    second = timedelta(seconds=1)
    ordered = [
        replace(note, occurred_at=note.occurred_at - second, logged_at=note.logged_at + second),
        replace(note, logged_at=note.logged_at - second, origin="z", id="z"),
        replace(note, origin="a", id="z"),
        replace(note, origin="b", id="a"),
        replace(note, origin="b", id="b"),
    ]
    assert in_order(ordered[::-1]) == ordered
    assert [f.moment(fact) for fact in ordered] == sorted(f.moment(fact) for fact in ordered)


def test_a_registration_comes_before_everything_whatever_its_time() -> None:
    told = story("S-014").shot("A001")
    registered = next(fact for fact in told.facts if isinstance(fact, f.Registered))
    late = replace(registered, occurred_at=registered.occurred_at + timedelta(days=9))
    facts = [*(fact for fact in told.facts if isinstance(fact, f.Loaded | f.Pulled)), late]
    assert in_order(facts)[0] is late


def test_the_order_in_which_facts_are_presented_changes_nothing() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().loaded("B", "B003").pulled(gb=1)
    expected = told.stands
    told.facts.reverse()
    assert told.stands == expected
