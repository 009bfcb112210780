"""What a roll is called: the camera's own reel name rules."""

from __future__ import annotations

from tests.stories import story


def test_a_roll_renamed_goes_by_its_new_name() -> None:
    told = story("S-014").shot("A001").renamed("A001", "A007")
    assert told.stands == ("exposed", [])
    assert told.holds == ["A007"]


def test_a_mishap_is_told_with_the_name_that_the_roll_has_now() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").renamed("A001", "A007")
    assert told.stands == ("loaded", [("loaded_uncovered", "A007")])


def test_a_guessed_name_is_a_guess_until_somebody_confirms_it() -> None:
    told = story("S-014").loaded("A", guessed_roll="A017")
    assert told.roll("A017").guessed
    assert not told.renamed("A017", "A017").roll("A017").guessed
    assert told.holds == ["A017"]


def test_a_guessed_name_that_was_wrong_is_put_right() -> None:
    told = story("S-014").loaded("A", guessed_roll="A017").renamed("A017", "A018")
    assert told.holds == ["A018"]
    assert not told.roll("A018").guessed


def test_a_roll_can_take_an_old_name_of_its_own_again() -> None:
    told = story("S-014").shot("A001").renamed("A001", "A002").renamed("A002", "A001")
    assert told.holds == ["A001"]
    assert told.checked("RAID", roll="A002").stands == ("exposed", [])


def test_a_roll_resumed_under_an_old_name_is_resumed() -> None:
    told = story("S-014").shot("A001").renamed("A001", "A007").loaded("A", "A001")
    assert told.stands == ("loaded", [])
    assert told.holds == ["A007"]


def test_a_load_said_twice_under_an_old_name_is_said_twice() -> None:
    told = story("S-014").loaded("A", "A001").renamed("A001", "A007").loaded("A", "A001")
    assert told.stands == ("loaded", [])
    assert told.holds == ["A007"]


def test_a_name_given_to_a_roll_that_the_card_never_held_changes_nothing() -> None:
    told = story("S-014").shot("A001").renamed("A099", "A100")
    assert told.stands == ("exposed", [])
    assert told.holds == ["A001"]


def test_every_fact_about_a_roll_finds_it_by_an_old_name() -> None:
    told = story("S-014").shot("A001").backed_up().renamed("A001", "A007")
    assert told.received("A001", "bad").stands == ("exposed", [("post_says_bad", "A007")])
    assert told.written_off("A001").stands == ("ready", [("post_says_bad", "A007")])
