"""A card comes out of its camera, or is said to."""

from __future__ import annotations

import pytest

from tests.stories import GB, story


def test_a_pull_closes_the_roll() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True)
    told.pulled(gb=480, clips=18, seconds=3_600.0, scenes=("12", "14A"))
    assert told.stands == ("exposed", [])
    assert told.uncovered == ["A001"]
    roll = told.roll("A001")
    assert roll.figures.bytes == (480 * GB, False)
    assert roll.figures.clips == (18, False)
    assert roll.figures.seconds == (3_600.0, False)
    assert roll.scenes == ("12", "14A")


def test_a_pull_without_figures_leaves_them_unknown() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).pulled()
    assert told.roll("A001").figures == (None, None, None)
    assert told.stands == ("exposed", [])


def test_figures_counted_by_a_reader_are_known_as_such() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).pulled(gb=480, measured=True)
    assert told.roll("A001").figures.bytes == (480 * GB, True)


def test_two_people_tap_the_same_pull() -> None:
    """No copy was begun, and nothing else happened between: it is said twice."""
    told = story("S-014").shot("A001", gb=480).pulled(gb=480)
    assert told.stands == ("exposed", [])
    assert told.holds == ["A001"]
    assert told.view().bytes_logged == 480 * GB


@pytest.mark.parametrize(
    ("first", "second", "stands"),
    [
        ((480, False), (470, False), 480),
        ((470, False), (480, False), 480),
        ((480, False), (470, True), 470),
        ((470, True), (480, False), 470),
        ((470, True), (480, True), 480),
        ((None, False), (480, False), 480),
        ((480, False), (None, True), 480),
    ],
)
def test_of_two_figures_measured_beats_typed_and_else_the_greater_stands(
    first: tuple[int | None, bool], second: tuple[int | None, bool], stands: int
) -> None:
    told = story("S-014").loaded("A", "A001", formatted=True)
    told.pulled(gb=first[0], measured=first[1]).pulled(gb=second[0], measured=second[1])
    assert told.stands == ("exposed", [])
    assert told.view().bytes_logged == stands * GB


def test_copies_are_compared_with_the_figure_that_stands() -> None:
    """Nobody pulled; the copies were made; the pull said late shows that they are short."""
    told = story("S-014").loaded("A", "A001", formatted=True).handed_over("cart")
    told.finished("RAID", gb=400, measured=True).checked("RAID").checked("SHUTTLE")
    assert told.stands == ("backed up", [("pull_missing", "A001")])
    assert told.pulled(gb=480).stands == ("exposed", [("copy_short", "A001")])


def test_a_pull_after_a_copy_was_begun_is_of_another_filling() -> None:
    told = story("S-014").shot("A001").started("RAID").pulled(gb=10, at="14:05")
    assert told.stands == ("exposed", [("pulled_unlogged", "S-014/2026-03-02/14:05")])
    assert told.holds == ["A001", "S-014/2026-03-02/14:05"]


@pytest.mark.parametrize("copied", ["finished", "checked"])
def test_a_pull_after_a_copy_was_made_is_of_another_filling(copied: str) -> None:
    told = story("S-014").shot("A001")
    getattr(told, copied)("RAID").pulled(gb=10, at="14:05")
    assert told.mishaps == [("pulled_unlogged", "S-014/2026-03-02/14:05")]


def test_a_pull_after_a_clearing_is_of_another_filling() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).pulled(gb=0).declared_empty("A001")
    told.cleared().pulled(gb=10, at="14:05")
    assert told.stands == ("exposed", [("pulled_unlogged", "S-014/2026-03-02/14:05")])


def test_a_pull_after_a_format_is_of_another_filling() -> None:
    told = story("S-014").shot("A001").formatted("camera", "A").pulled(gb=10, at="14:05")
    assert told.stands == (
        "exposed",
        [("formatted_uncovered", "A001"), ("pulled_unlogged", "S-014/2026-03-02/14:05")],
    )


def test_a_pull_after_the_camera_crew_got_the_card_is_of_another_filling() -> None:
    told = story("S-014").shot("A001").handed_over("camera crew").pulled(gb=10, at="14:05")
    assert told.stands == ("exposed", [("pulled_unlogged", "S-014/2026-03-02/14:05")])


def test_a_pull_after_the_card_went_to_the_cart_is_said_twice() -> None:
    told = story("S-014").shot("A001", gb=480).handed_over("cart").pulled(gb=490)
    assert told.stands == ("exposed", [])
    assert told.view().bytes_logged == 490 * GB


def test_a_pull_of_a_card_nobody_loaded_is_the_dangerous_case() -> None:
    """There is footage on the card that nobody knew of: a roll is opened and closed."""
    told = story("S-014").formatted("camera", "A").pulled(gb=310, at="14:05")
    assert told.stands == ("exposed", [("pulled_unlogged", "S-014/2026-03-02/14:05")])
    assert told.uncovered == ["S-014/2026-03-02/14:05"]
    assert told.view().bytes_logged == 310 * GB


def test_an_unlogged_load_after_a_clearing_ends_the_clearing() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().pulled(gb=310, at="14:05")
    assert told.stands == ("exposed", [("pulled_unlogged", "S-014/2026-03-02/14:05")])


def test_the_pull_that_nobody_logged_arrives_a_minute_later() -> None:
    """The roll was closed by implication: the pull gives its figures, and answers the mishap."""
    told = story("S-014").loaded("A", "A005", formatted=True).handed_over("cart")
    assert told.stands == ("exposed", [("pull_missing", "A005")])
    assert told.pulled(gb=310).stands == ("exposed", [])
    assert told.view().bytes_logged == 310 * GB
    assert told.holds == ["A005"]


def test_a_pull_answers_also_after_copies_of_a_roll_closed_by_implication() -> None:
    told = story("S-014").loaded("A", "A005", formatted=True).started("RAID").checked("RAID")
    assert told.stands == ("exposed", [("pull_missing", "A005")])
    assert told.checked("SHUTTLE").pulled(gb=310).stands == ("backed up", [])


def test_a_pull_tapped_after_the_format_that_closed_the_roll_is_of_that_roll() -> None:
    told = story("S-014").loaded("A", "A005", formatted=True).formatted("computer")
    told.pulled(gb=310)
    assert told.stands == (
        "cleared",
        [("formatted_on_computer", None), ("formatted_uncovered", "A005")],
    )
    assert told.view().bytes_logged == 310 * GB


def test_a_pull_answers_only_for_the_roll_closed_last() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).loaded("B", "B003").pulled(gb=5)
    assert told.stands == ("exposed", [("loaded_uncovered", "A001"), ("pull_missing", "A001")])
    assert told.pulled(gb=5).mishaps == [("loaded_uncovered", "A001"), ("pull_missing", "A001")]


@pytest.mark.parametrize(
    ("unmounted", "mishaps"),
    [(None, []), (True, []), (False, [("pulled_mounted", None)])],
)
def test_a_card_pulled_without_unmounting_is_a_note(
    unmounted: bool | None, mishaps: list[tuple[str, str | None]]
) -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).pulled(unmounted=unmounted)
    assert told.stands == ("exposed", mishaps)


def test_rolls_that_add_up_to_just_the_capacity_fit_on_the_card() -> None:
    told = story("S-014", capacity_gb=500).shot("A001", gb=300).backed_up()
    assert told.loaded("A", "A002").pulled(gb=200).stands == ("exposed", [])


def test_rolls_that_add_up_to_more_than_the_capacity_are_doubted() -> None:
    """Said of the roll closed last: a number is wrong, or a format was not logged."""
    told = story("S-014", capacity_gb=500).shot("A001", gb=300).backed_up()
    told.loaded("A", "A002").pulled(gb=201)
    assert told.stands == ("exposed", [("over_capacity", "A002")])


def test_rolls_that_were_wiped_take_no_room() -> None:
    told = story("S-014", capacity_gb=500).shot("A001", gb=300).backed_up().cleared()
    assert told.shot("A002", gb=300).stands == ("exposed", [])


def test_a_better_figure_for_the_same_pull_takes_the_doubt_away() -> None:
    told = story("S-014", capacity_gb=500).shot("A001", gb=4800)
    assert told.stands == ("exposed", [("over_capacity", "A001")])
    assert told.pulled(gb=480, measured=True).stands == ("exposed", [])


def test_scenes_are_kept_whoever_says_them_and_whenever() -> None:
    late = story("S-014").loaded("A", "A005", formatted=True).handed_over("cart")
    assert late.pulled(gb=1, scenes=("12",)).roll("A005").scenes == ("12",)
    assert late.pulled(gb=1).roll("A005").scenes == ("12",)
    unlogged = story("S-014").formatted("camera", "A").pulled(scenes=("7",), at="14:05")
    assert unlogged.roll("S-014/2026-03-02/14:05").scenes == ("7",)
