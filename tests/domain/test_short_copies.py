"""Short copies: fewer bytes or clips than the roll, or another copy, is known to hold."""

from __future__ import annotations

import pytest

from tests.stories import GB, Story, story
from tracker.domain import facts as f

SHORT = [("copy_short", "A001")]


# With a finished copy on the VAULT as well, a card whose RAID copy is short stands as copied:
# two copies are finished, and only the level of the one on the VAULT is wanting.


def shot(gb: float | None = None, *, measured: bool = False, **fields: int) -> Story:
    """A001 has one good copy, of which nobody gave the size; the RAID is to take the other."""
    told = story("S-014").loaded("A", "A001", formatted=True)
    return told.pulled(gb=gb, measured=measured, **fields).checked("SHUTTLE")


def raid_holds(told: Story, gb: float | None = None, **fields: int | bool) -> Story:
    return told.finished("RAID", gb=gb, roll="A001", **fields).checked("RAID", roll="A001")


@pytest.mark.parametrize(
    ("size", "stands"),
    [
        (480 * GB - 1, ("exposed", SHORT)),
        (480 * GB, ("backed up", [])),
        (480 * GB + 1, ("backed up", [])),
    ],
)
def test_measured_figures_are_compared_exactly(size: int, stands) -> None:
    told = shot(gb=480, measured=True)
    assert raid_holds(told, gb=size / GB, measured=True).stands == stands


TWO_IN_A_HUNDRED = [(489.9, ("exposed", SHORT)), (490, ("backed up", [])), (500, ("backed up", []))]


@pytest.mark.parametrize(("gb", "stands"), TWO_IN_A_HUNDRED)
@pytest.mark.parametrize(
    ("roll_measured", "copy_measured"), [(False, False), (True, False), (False, True)]
)
def test_where_either_figure_was_typed_short_means_less_than_98_in_a_hundred(
    gb: float, stands, roll_measured: bool, copy_measured: bool
) -> None:
    """0.98 of 500 GB is 490 GB (common practice, no source)."""
    told = shot(gb=500, measured=roll_measured)
    assert raid_holds(told, gb=gb, measured=copy_measured).stands == stands


@pytest.mark.parametrize(
    ("clips", "of", "stands"),
    [(17, 18, ("exposed", SHORT)), (98, 100, ("backed up", [])), (97, 100, ("exposed", SHORT))],
)
def test_clips_are_compared_like_bytes(clips: int, of: int, stands) -> None:
    assert raid_holds(shot(clips=of), clips=clips).stands == stands


def test_measured_clips_are_compared_exactly() -> None:
    told = raid_holds(shot(clips=100, measured=True), clips=99, measured=True)
    assert told.stands == ("exposed", SHORT)


def test_one_clip_missing_makes_a_copy_short_though_its_bytes_are_enough() -> None:
    told = raid_holds(shot(gb=480, clips=18), gb=480, clips=17)
    assert told.stands == ("exposed", SHORT)


def test_a_figure_that_nobody_gave_makes_nothing_short() -> None:
    assert raid_holds(shot(gb=480), clips=3).stands == ("backed up", [])
    assert raid_holds(shot(), gb=3).stands == ("backed up", [])


def test_a_manifest_that_agrees_with_itself_proves_nothing_about_what_is_missing() -> None:
    told = raid_holds(shot(clips=18), clips=17).checked("RAID", "reread", roll="A001")
    assert told.stands == ("exposed", SHORT)


def test_a_copy_is_short_when_another_copy_holds_more() -> None:
    told = raid_holds(shot().finished("VAULT", gb=480, roll="A001", measured=True), gb=400)
    assert told.stands == ("copied", SHORT)


def test_the_first_copy_proves_short_by_the_second() -> None:
    """The mishap belongs to the finish of the short copy, not to that which showed it."""
    told = raid_holds(shot(), gb=400, measured=True)
    assert told.stands == ("backed up", [])
    told.finished("SHUTTLE", gb=480, roll="A001", measured=True).checked("SHUTTLE")
    assert told.stands == ("exposed", SHORT)
    (mishap,) = told.view().mishaps
    assert (mishap.key.fact, mishap.key.drive) == ("copy_finished 1", "RAID")


def test_a_copy_that_holds_more_than_the_roll_shows_the_roll_was_larger() -> None:
    """The pull was typed too low: the larger copy proves the smaller one short."""
    told = shot(gb=400)
    told.finished("VAULT", gb=480, roll="A001").finished("RAID", gb=400, roll="A001")
    assert told.stands == ("copied", SHORT)


def two_rolls(first: float | None = 100, second: float | None = 200) -> Story:
    told = story("S-014").shot("A001", gb=first).loaded("A", "A002").pulled(gb=second)
    return told.settled("loaded 2", "loaded_uncovered")


def test_a_copy_of_several_rolls_is_compared_by_its_sum() -> None:
    enough = two_rolls().finished("RAID", gb=300).finished("SHUTTLE", gb=294)
    assert enough.stands == ("copied", [])
    short = two_rolls().finished("RAID", gb=300).finished("SHUTTLE", gb=293)
    assert short.stands == ("exposed", [("copy_short", "A001"), ("copy_short", "A002")])


def test_a_copy_of_several_rolls_is_not_compared_where_a_pull_has_no_figure() -> None:
    told = two_rolls(first=None).finished("RAID", gb=1).finished("SHUTTLE", gb=1)
    assert told.stands == ("copied", [])


def test_a_copy_of_several_rolls_never_proves_another_copy_short() -> None:
    told = two_rolls().finished("RAID", gb=300)
    told.finished("SHUTTLE", gb=100, roll="A001").finished("SHUTTLE", gb=200, roll="A002")
    assert told.stands == ("copied", [])


def test_a_copy_of_one_roll_does_not_prove_a_copy_of_several_short() -> None:
    told = two_rolls(None, None).finished("RAID", gb=300).finished("SHUTTLE", gb=400, roll="A001")
    assert told.mishaps == []


def test_a_short_copy_counts_again_after_a_full_attempt_but_the_mishap_stands() -> None:
    told = raid_holds(shot(gb=480), gb=400)
    raid_holds(told, gb=480)
    assert told.stands == ("backed up", SHORT)
    told.settled("copy_finished 1", "copy_short")
    assert told.stands == ("backed up", [])


def test_a_finish_replaces_the_figures_which_no_longer_count_anywhere() -> None:
    """The VAULT was said to hold more than there was: with its new figures, the RAID counts."""
    told = raid_holds(shot(), gb=480, measured=True)
    told.finished("VAULT", gb=900, roll="A001", measured=True)
    assert told.stands == ("copied", SHORT)
    told.finished("VAULT", gb=480, roll="A001", measured=True)
    assert told.stands == ("backed up", SHORT)


def test_a_short_copy_counts_again_when_it_is_settled_with_a_reason() -> None:
    told = raid_holds(shot(gb=480), gb=400).settled("copy_finished 1", "copy_short")
    assert told.stands == ("backed up", [])


def test_a_settlement_holds_for_the_figures_known_then() -> None:
    """A greater one known later makes the copy short again, and its mishap stands again."""
    told = raid_holds(shot(gb=480), gb=400).settled("copy_finished 1", "copy_short")
    told.finished("VAULT", gb=480, roll="A001")
    assert told.stands == ("backed up", [])
    told.finished("VAULT", gb=481, roll="A001")
    assert told.stands == ("copied", SHORT)


def test_a_copy_that_failed_as_short_does_not_count() -> None:
    told = shot().checked("RAID").failed("RAID", "short")
    assert told.stands == ("exposed", SHORT)


def test_a_copy_that_failed_as_short_counts_again_when_that_is_settled() -> None:
    told = shot().checked("RAID").failed("RAID", "short").settled("copy_failed 1", "copy_short")
    assert told.stands == ("backed up", [])


def test_a_short_copy_of_a_wiped_roll_leaves_it_below_the_rule() -> None:
    told = raid_holds(shot(), gb=400, measured=True).cleared().formatted("camera", "A")
    assert told.stands == ("ready", [])
    told.finished("VAULT", gb=480, roll="A001", made_from="SHUTTLE", measured=True)
    assert told.stands == ("ready", [*SHORT, ("covered_no_more", "A001")])
    assert told.below == ["A001"]


def test_a_copy_of_a_resumed_roll_is_compared_with_the_new_figure() -> None:
    told = shot(gb=300).checked("RAID").loaded("A", "A001").pulled(gb=700)
    told.finished("RAID", gb=300).checked("RAID")
    assert told.stands == ("exposed", SHORT)


def test_bytes_far_beyond_a_terabyte_are_compared_exactly() -> None:
    """A float would round them: 2**60 and 2**60 - 1 are the same float."""
    told = story("S-014", capacity_gb=3e9).loaded("A", "A001", formatted=True)
    told.tell(f.Pulled, bytes=2**60, measured=True).checked("SHUTTLE")
    told.tell(f.CopyFinished, drive="RAID", bytes=2**60 - 1, measured=True).checked("RAID")
    assert told.stands == ("exposed", SHORT)


def test_a_copy_of_several_rolls_is_not_compared_with_what_one_of_them_holds_since() -> None:
    """A001 was resumed and holds more now: the copies of A002 are as good as they were."""
    told = two_rolls()
    for drive in ("RAID", "SHUTTLE"):
        told.finished(drive, gb=300).checked(drive)
    told.loaded("A", "A001").pulled(gb=700)
    assert told.stands == ("exposed", [])
    assert told.uncovered == ["A001"]
