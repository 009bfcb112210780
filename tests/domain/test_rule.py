"""What the backup rule asks for: copies, level, kinds of drive, off site, word from post."""

from __future__ import annotations

import pytest

from tests.stories import Story, story
from tracker.domain.rule import BackupRule, in_words_for

OFF_SITE = BackupRule(copies=2, level="checksummed", off_site=1)
TWO_KINDS = BackupRule(copies=2, level="checksummed", kinds=2)
RECEIPT = BackupRule(copies=2, level="checksummed", receipt=True)


def test_one_copy_is_enough_where_the_rule_says_so() -> None:
    told = story("S-014", rule=BackupRule(copies=1, level="listed")).shot("A001")
    assert told.checked("RAID", "listed").stands == ("backed up", [])


@pytest.mark.parametrize(("copies", "status"), [(2, "backed up"), (3, "exposed")])
def test_as_many_copies_must_count_as_the_rule_says(copies: int, status: str) -> None:
    told = story("S-014", rule=BackupRule(copies=copies)).shot("A001").backed_up()
    assert told.stands == (status, [])


def test_the_recommended_rule_holds_where_no_other_was_set() -> None:
    """Three copies, two kinds, one off site, before a format."""
    told = story("S-014", rule=None).shot("A001").backed_up()
    assert told.stands == ("exposed", [])
    assert told.checked("VAULT").stands == ("backed up", [])
    assert told.drive_moved("VAULT", "on set").stands == ("exposed", [])


def test_copies_on_one_kind_of_drive_are_not_enough_for_two_kinds() -> None:
    told = story("S-014", rule=TWO_KINDS).shot("A001").drive_registered("SHUTTLE-2", "ssd")
    told.checked("SHUTTLE").checked("SHUTTLE-2")
    assert told.stands == ("exposed", [])
    assert told.checked("RAID").stands == ("backed up", [])


@pytest.mark.parametrize(
    ("place", "status"),
    [
        ("off site", "backed up"),
        ("in transit", "exposed"),
        ("on set", "exposed"),
        ("near set", "exposed"),
        ("lab", "exposed"),
        ("other", "exposed"),
    ],
)
def test_a_copy_on_its_way_is_not_off_site_yet(place, status: str) -> None:
    told = story("S-014", rule=OFF_SITE).shot("A001").backed_up().drive_moved("SHUTTLE", place)
    assert told.stands == (status, [])


def test_a_drive_is_in_transit_until_it_arrived() -> None:
    told = story("S-014", rule=OFF_SITE).shot("A001").backed_up()
    told.drive_moved("SHUTTLE", "in transit")
    assert told.status == "exposed"
    assert told.drive_moved("SHUTTLE", "off site").stands == ("backed up", [])
    assert told.drive_moved("SHUTTLE", "in transit").stands == ("exposed", [])


def test_a_copy_below_the_level_is_no_copy_off_site() -> None:
    told = story("S-014", rule=OFF_SITE).shot("A001").backed_up().finished("VAULT", roll="A001")
    assert told.stands == ("copied", [])
    assert told.checked("VAULT").stands == ("backed up", [])


def test_two_partitions_of_one_enclosure_are_one_copy_off_site() -> None:
    told = story("S-014", rule=BackupRule(copies=2, off_site=2)).shot("A001").checked("RAID")
    for drive in ("TOWER-1", "TOWER-2"):
        told.drive_registered(drive, "hdd", "off site", enclosure="TOWER").checked(drive)
    assert told.stands == ("exposed", [])
    assert told.checked("VAULT").stands == ("backed up", [])


def test_where_the_rule_asks_for_receipt_post_must_have_said_that_it_is_good() -> None:
    told = story("S-014", rule=RECEIPT).shot("A001").backed_up()
    assert told.stands == ("exposed", [])
    assert told.received("A001", "good").stands == ("backed up", [])


def test_word_from_post_is_of_what_the_roll_held_then() -> None:
    """Wiped after lunch, the roll is judged with what it had: its copies, and word from post."""
    told = story("S-014", rule=RECEIPT).shot("A004").backed_up().received("A004", "good")
    told.loaded("A", "A004", formatted=True)
    assert told.stands == ("loaded", [("formatted_uncleared", None)])


def test_word_from_post_alone_covers_nothing() -> None:
    told = story("S-014", rule=RECEIPT).shot("A001").received("A001", "good")
    assert told.stands == ("exposed", [])


def test_post_uncovers_a_roll_in_any_case_when_it_says_bad() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().received("A001", "bad")
    assert told.stands == ("exposed", [("post_says_bad", "A001")])
    told.received("A001", "good")
    assert told.stands == ("cleared", [("post_says_bad", "A001")])


def test_post_uncovers_a_roll_that_was_wiped() -> None:
    told = story("S-014").shot("A001").backed_up().cleared().formatted("camera", "A")
    told.received("A001", "bad")
    assert told.stands == ("ready", [("covered_no_more", "A001"), ("post_says_bad", "A001")])
    assert told.below == ["A001"]


HOLD = BackupRule(copies=2, level="checksummed", hold_days=2)


def held() -> Story:
    """Pulled at noon of the first day, and not to be cleared for two days."""
    told = story("S-014", rule=HOLD).loaded("A", "A001", formatted=True)
    return told.pulled(gb=480, at="12:00").backed_up()


def test_the_hold_does_not_make_a_roll_uncovered() -> None:
    assert held().stands == ("backed up", [])


def test_the_hold_withholds_the_clearing_until_its_days_are_over() -> None:
    early = held().day(3).cleared(at="11:59")
    assert early.stands == ("backed up", [("cleared_uncovered", None)])
    assert held().day(3).cleared(at="12:00").stands == ("cleared", [])


def test_the_hold_of_a_roll_that_owes_nothing_is_over() -> None:
    told = held().written_off("A001").cleared()
    assert told.stands == ("ready", [])


def test_a_drive_counts_for_the_roll_and_not_for_the_card() -> None:
    """One roll has copies on RAID and SHUTTLE, the other on SHUTTLE and VAULT."""
    told = story("S-014").shot("A001").checked("RAID").checked("SHUTTLE")
    told.loaded("A", "A002").pulled(gb=1)
    told.checked("VAULT").checked("SHUTTLE", roll="A002")
    assert told.stands == ("backed up", [])


def test_what_is_asked_is_said_for_the_rolls_that_are_there() -> None:
    def asked(told: Story) -> str:
        return in_words_for(told.production.context.rules, told.state.rolls.values())

    assert asked(story("S-014").shot("A001")).startswith("2 copies, checksummed, before")
    proxy = story("S-014").loaded("A", "P001", loaded_as="proxy").pulled(gb=1)
    assert asked(proxy).startswith("one copy, listed, before")
    both = asked(proxy.loaded("A", "A001").pulled(gb=1))
    assert both.startswith("2 copies") and "; of proxies for one copy, listed" in both
