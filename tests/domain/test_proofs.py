"""A check level is believed for its proof: the manifest or listing, kept by its SHA-256."""

from __future__ import annotations

import pytest

from tests.stories import PROOF, Story, story


def claimed_twice() -> Story:
    return story("S-014").shot("A001").finished("RAID").finished("SHUTTLE")


def check_both(told: Story, level: str, proof: str | None = PROOF) -> Story:
    return told.checked("RAID", level, proof=proof).checked("SHUTTLE", level, proof=proof)


@pytest.mark.parametrize("level", ["listed", "checksummed", "reread"])
@pytest.mark.parametrize("source", [Story.live, Story.history, Story.sent])
def test_a_check_that_names_no_proof_is_claimed_whoever_says_it(source, level: str) -> None:
    told = check_both(source(claimed_twice()), level, proof=None)
    assert told.stands == ("copied", [])


def test_a_live_check_needs_its_proof_kept_here() -> None:
    told = check_both(claimed_twice().live(), "checksummed")
    assert told.stands == ("copied", [])


@pytest.mark.parametrize("level", ["checksummed", "reread"])
def test_a_live_check_counts_once_its_proof_is_kept(level: str) -> None:
    """Until then the copy counts as claimed; the proof may come before the check or after."""
    before = check_both(claimed_twice().live().proof_kept(), level)
    after = check_both(claimed_twice().live(), level).proof_kept()
    assert before.stands == after.stands == ("backed up", [])


def test_another_proof_than_the_one_named_does_not_help() -> None:
    told = check_both(claimed_twice().live().proof_kept("0f" * 32), "checksummed")
    assert told.stands == ("copied", [])


def test_a_clearing_given_before_the_proof_came_was_not_supported() -> None:
    told = check_both(claimed_twice().live(), "checksummed").cleared().proof_kept()
    assert told.stands == ("backed up", [("cleared_uncovered", None)])


@pytest.mark.parametrize("source", [Story.history, Story.sent])
def test_a_proof_named_in_history_or_by_another_service_need_not_be_kept(source) -> None:
    told = check_both(source(claimed_twice()), "checksummed")
    assert told.stands == ("backed up", [])


def test_a_proof_adds_nothing_to_a_claim() -> None:
    assert check_both(claimed_twice(), "claimed").stands == ("copied", [])


def test_a_live_listing_without_its_proof_does_not_cover_a_proxy() -> None:
    told = story("S-014").live().loaded("A", "P001", loaded_as="proxy", formatted=True).pulled()
    assert told.checked("RAID", "listed").stands == ("copied", [])
    assert told.proof_kept().stands == ("backed up", [])
