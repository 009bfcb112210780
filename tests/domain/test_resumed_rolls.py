"""A card goes back into its camera with the same roll: a lunch copy, a reseat."""

from __future__ import annotations

from tests.stories import Story, story


def lunch() -> Story:
    """Roll A004 is copied at lunch, and goes on in the afternoon."""
    return story("S-014").shot("A004", gb=300).backed_up().loaded("A", "A004", at="13:00")


def test_a_roll_named_again_in_its_camera_is_resumed() -> None:
    told = lunch()
    assert told.stands == ("loaded", [])
    assert told.holds == ["A004"]
    assert len(told.state.rolls) == 1


def test_an_uncovered_roll_that_is_resumed_is_no_mishap() -> None:
    told = story("S-014").shot("A004").loaded("A", "A004")
    assert told.stands == ("loaded", [])
    assert told.holds == ["A004"]


def test_another_roll_on_the_card_is_still_in_danger_when_one_is_resumed() -> None:
    told = story("S-014").shot("A003").loaded("A", "A004").pulled(gb=1).loaded("A", "A004")
    twice = [("loaded_uncovered", "A003"), ("loaded_uncovered", "A003")]
    assert told.stands == ("loaded", twice)


def test_a_roll_is_resumed_in_its_own_camera_only() -> None:
    told = story("S-014").shot("A004").loaded("B", "A004")
    assert told.stands == ("loaded", [("loaded_uncovered", "A004")])
    assert told.holds == ["A004", "A004"]


def test_a_roll_that_was_wiped_cannot_be_resumed() -> None:
    told = story("S-014").shot("A004").backed_up().cleared().formatted("camera", "A")
    told.loaded("A", "A004")
    assert told.stands == ("loaded", [])
    assert len(told.state.rolls) == 2


def test_a_load_that_names_no_roll_resumes_nothing() -> None:
    told = story("S-014").shot("A004").loaded("A", at="13:00")
    assert told.stands == ("loaded", [("loaded_uncovered", "A004")])
    assert told.holds == ["A004", "S-014/2026-03-02/13:00"]


def test_the_copies_made_at_lunch_do_not_count_in_the_afternoon() -> None:
    told = lunch().pulled(gb=700)
    assert told.stands == ("exposed", [])
    assert told.uncovered == ["A004"]
    assert told.view().bytes_logged == 700 * 10**9


def test_new_copies_after_the_pull_cover_the_roll() -> None:
    told = lunch().pulled(gb=700)
    told.finished("RAID").finished("SHUTTLE").checked("RAID").checked("SHUTTLE")
    assert told.stands == ("backed up", [])


def test_one_new_copy_beside_one_of_lunch_is_not_enough() -> None:
    told = lunch().pulled(gb=700).finished("RAID").checked("RAID").checked("SHUTTLE")
    assert told.stands == ("exposed", [])


def test_a_check_after_the_pull_is_of_the_copy_made_at_lunch() -> None:
    """Nothing new was begun or finished on that drive: it proves nothing about the afternoon."""
    told = lunch().pulled(gb=700).checked("RAID", roll="A004").checked("SHUTTLE", roll="A004")
    assert told.stands == ("exposed", [])


def test_a_check_while_the_roll_is_in_the_camera_closes_nothing() -> None:
    told = lunch().checked("RAID", roll="A004").checked("SHUTTLE")
    assert told.stands == ("loaded", [])


def test_a_failure_after_the_pull_is_of_the_copy_made_at_lunch() -> None:
    """New copies on the other drives count: the failure took nothing from them."""
    told = lunch().pulled(gb=700).finished("VAULT").checked("VAULT")
    told.failed("RAID", "interrupted", roll="A004").started("SHUTTLE").checked("SHUTTLE")
    assert told.stands == ("backed up", [])


def test_a_finish_while_the_roll_is_in_the_camera_is_of_lunch() -> None:
    """On a drive that has the lunch copy, only a finish after the next pull is a new copy."""
    told = lunch().finished("RAID", roll="A004").finished("SHUTTLE", roll="A004")
    assert told.stands == ("loaded", [])
    told.pulled(gb=700).checked("RAID", roll="A004").checked("SHUTTLE", roll="A004")
    assert told.stands == ("exposed", [])


def test_a_check_on_a_drive_without_a_lunch_copy_is_a_new_copy() -> None:
    told = lunch().pulled(gb=700).checked("VAULT").started("RAID").checked("RAID")
    assert told.stands == ("backed up", [])


def test_a_start_on_a_drive_of_lunch_is_a_new_copy() -> None:
    told = lunch().pulled(gb=700).started("RAID").started("SHUTTLE")
    assert told.stands == ("copying", [])
    assert told.checked("RAID").checked("SHUTTLE").stands == ("backed up", [])


def test_a_roll_resumed_twice_needs_copies_of_its_last_filling() -> None:
    told = lunch().pulled(gb=500).started("RAID").checked("RAID").loaded("A", "A004")
    told.pulled(gb=800).checked("RAID").checked("SHUTTLE")
    assert told.stands == ("exposed", [])


def test_resuming_a_roll_takes_back_that_it_owes_nothing() -> None:
    """`declared_empty` and `written_off` hold until the roll is resumed."""
    for owes_nothing in (Story.declared_empty, Story.written_off):
        told = story("S-014").shot("A004", gb=None)
        owes_nothing(told, "A004")
        assert told.stands == ("ready", [])
        assert told.loaded("A", "A004").pulled(gb=None).stands == ("exposed", [])


def test_a_format_under_a_resumed_roll_wipes_what_it_held_at_lunch() -> None:
    """What it held is judged with the copies that it had; what follows is new."""
    told = lunch().formatted("camera", "A", at="13:05")
    assert told.stands == ("loaded", [("formatted_uncleared", None)])
    assert told.below == []
    assert told.pulled(gb=100).stands == ("exposed", [("formatted_uncleared", None)])
    assert told.below == ["A004"]
    assert told.view().bytes_logged == 400 * 10**9


def test_a_format_under_a_resumed_roll_that_was_not_covered_loses_it() -> None:
    told = story("S-014").shot("A004", gb=300).checked("RAID")
    told.loaded("A", "A004", formatted=True)
    assert told.stands == ("loaded", [("formatted_uncovered", "A004")])
    assert told.below == ["A004"]


def test_a_late_format_under_a_resumed_roll_may_have_wiped_takes_as_well() -> None:
    told = lunch().formatted("camera", "A", at="13:16")
    assert told.stands == ("loaded", [("formatted_late", "A004"), ("formatted_uncleared", None)])


def test_late_checks_belong_to_the_part_that_was_wiped() -> None:
    """They cover what was wiped, in hindsight not at the format; the new part has no copy."""
    told = story("S-014").shot("A004", gb=300).finished("RAID").finished("SHUTTLE")
    told.loaded("A", "A004", formatted=True)
    told.checked("RAID", roll="A004").checked("SHUTTLE", roll="A004")
    assert told.stands == ("loaded", [("formatted_uncovered", "A004")])
    assert told.below == []
    assert told.pulled(gb=100).stands == ("exposed", [("formatted_uncovered", "A004")])
    assert told.below == ["A004"]


def test_new_copies_are_of_the_part_that_was_shot_after_the_format() -> None:
    told = lunch().formatted("camera", "A", at="13:05").pulled(gb=100)
    told.started("RAID").started("SHUTTLE").checked("RAID").checked("SHUTTLE")
    assert told.stands == ("backed up", [("formatted_uncleared", None)])
    assert told.below == []


def test_a_copy_made_in_the_afternoon_from_the_one_of_lunch_is_of_lunch() -> None:
    told = lunch().finished("VAULT", roll="A004", made_from="RAID")
    assert told.stands == ("loaded", [])
    told.pulled(gb=700).checked("VAULT", roll="A004").started("RAID").checked("RAID")
    assert told.stands == ("exposed", [])
