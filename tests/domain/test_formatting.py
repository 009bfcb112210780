"""A card is wiped: in its camera, in another one, on a computer, or before it goes back."""

from __future__ import annotations

import pytest

from tests.stories import production, story


def test_a_format_wipes_every_closed_roll() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().loaded("B", "B003").pulled(gb=1)
    told.backed_up().cleared().formatted("camera", "A")
    assert told.stands == ("ready", [])
    assert told.holds == []
    assert told.view().cycles == 2


def test_a_format_of_an_uncovered_roll_may_have_lost_footage() -> None:
    told = story("S-014").shot("A001").checked("RAID").formatted("camera", "A")
    assert told.stands == ("ready", [("formatted_uncovered", "A001")])
    assert told.below == ["A001"]


def test_each_uncovered_roll_that_is_wiped_is_named() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").pulled(gb=1).formatted("camera", "A")
    assert told.stands == (
        "ready",
        [
            ("formatted_uncovered", "A001"),
            ("formatted_uncovered", "B003"),
            ("loaded_uncovered", "A001"),
        ],
    )


def test_a_format_without_a_clearing_is_a_note() -> None:
    """Everything was covered: nothing is lost, but nobody gave leave."""
    told = story("S-014").shot("A001").backed_up().formatted("camera", "A")
    assert told.stands == ("ready", [("formatted_uncleared", None)])


def test_a_format_that_wiped_nothing_that_owed_needs_no_clearing() -> None:
    told = story("S-014").shot("A001").written_off("A001").formatted("camera", "A")
    assert told.stands == ("ready", [])


def test_a_format_that_wiped_an_uncovered_roll_is_not_also_uncleared() -> None:
    told = story("S-014").shot("A001").backed_up().loaded("B", "B003").pulled(gb=1)
    told.formatted("camera", "A")
    assert told.stands == ("ready", [("formatted_uncovered", "B003")])


def test_a_clearing_that_fell_gives_no_leave() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().clearing_withdrawn()
    assert told.formatted("camera", "A").stands == ("ready", [("formatted_uncleared", None)])


def test_a_format_uses_up_the_clearing() -> None:
    """The next roll needs its own."""
    told = story("S-014").shot("A001").backed_up().cleared().formatted("camera", "A")
    told.loaded("A", "A002").pulled(gb=1).backed_up()
    assert told.stands == ("backed up", [])
    assert told.formatted("camera", "A").stands == ("ready", [("formatted_uncleared", None)])


def test_a_format_of_an_empty_card_also_uses_up_its_clearing() -> None:
    told = story("S-014").checked_in("empty").cleared().formatted("computer")
    assert told.state.clearing is None


def test_the_roll_in_the_camera_stays_open_and_starts_anew() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().loaded("B", "B003")
    told.formatted("camera", "B")
    assert told.stands == ("loaded", [])
    assert told.holds == ["B003"]


def test_a_format_that_names_no_camera_is_in_the_one_where_the_card_is() -> None:
    told = story("S-014").loaded("B", "B003").formatted("camera")
    assert told.stands == ("loaded", [])


@pytest.mark.parametrize(
    ("at", "mishaps"),
    [("08:14", []), ("08:15", []), ("08:16", [("formatted_late", "A001")])],
)
def test_a_format_more_than_fifteen_minutes_after_the_load_may_have_wiped_takes(
    at: str, mishaps: list[tuple[str, str | None]]
) -> None:
    told = story("S-014").loaded("A", "A001", at="08:00").formatted("camera", "A", at=at)
    assert told.stands == ("loaded", mishaps)


def test_the_fifteen_minutes_of_a_resumed_roll_count_from_its_last_load() -> None:
    told = story("S-014").shot("A004").backed_up().loaded("A", "A004", at="13:00")
    told.formatted("camera", "A", at="13:14")
    assert told.stands == ("loaded", [("formatted_uncleared", None)])


@pytest.mark.parametrize("camera", ["B", "DR"])
def test_a_format_in_another_camera_closes_the_roll_and_wipes_it(camera: str) -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).formatted("camera", camera)
    assert told.stands == ("ready", [("formatted_uncovered", "A001"), ("pull_missing", "A001")])
    assert told.holds == []
    assert told.below == ["A001"]


def test_a_format_on_a_computer_closes_the_roll_and_wipes_it() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).formatted("computer")
    assert told.stands == (
        "cleared",
        [
            ("formatted_on_computer", None),
            ("formatted_uncovered", "A001"),
            ("pull_missing", "A001"),
        ],
    )


def test_a_card_formatted_on_a_computer_is_not_ready() -> None:
    """It must be formatted in a camera before it is used."""
    told = story("S-014").shot("A001").backed_up().cleared().formatted("computer")
    assert told.stands == ("cleared", [("formatted_on_computer", None)])
    assert told.formatted("camera", "A").stands == ("ready", [("formatted_on_computer", None)])


def test_the_wipe_before_a_card_goes_back_is_no_mishap() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().formatted("return")
    assert told.stands == ("cleared", [])


def test_the_wipe_before_a_card_goes_back_is_judged_like_any_other() -> None:
    told = story("S-014").shot("A001").formatted("return")
    assert told.stands == ("cleared", [("formatted_uncovered", "A001")])


def test_a_file_system_that_no_cart_computer_reads_is_a_warning() -> None:
    told = production(readable=frozenset({"exfat", "apfs"})).card("S-014")
    assert told.formatted("camera", "A", file_system="exfat").stands == ("ready", [])
    told.formatted("camera", "A", file_system="udf")
    assert told.stands == ("ready", [("wrong_file_system", None)])


def test_a_load_with_a_format_is_also_asked_for_its_file_system() -> None:
    told = production(readable=frozenset({"exfat"})).card("S-014")
    told.loaded("A", "A001", formatted=True, file_system="udf")
    assert told.stands == ("loaded", [("wrong_file_system", None)])


def test_no_file_system_is_wrong_while_no_cart_computer_is_described() -> None:
    told = story("S-014").formatted("camera", "A", file_system="udf")
    assert told.stands == ("ready", [])


def test_a_file_system_that_nobody_said_is_not_wrong() -> None:
    told = production(readable=frozenset({"exfat"})).card("S-014")
    assert told.formatted("camera", "A").stands == ("ready", [])
