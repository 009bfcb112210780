"""A card is cleared against the rule: with a reason, a second person, and a promise."""

from __future__ import annotations

from tests.stories import KIM, NOOR, Story, story
from tracker.domain import facts as f

OVERRIDE = ("cleared_by_override", None)


def overridden() -> Story:
    """One copy of two, and no other card for the night."""
    return story("S-014").shot("A001").checked("RAID").overridden()


def test_an_override_clears_a_card_against_the_rule_and_is_a_mishap() -> None:
    told = overridden()
    assert told.stands == ("cleared", [OVERRIDE])
    assert told.uncovered == ["A001"]
    assert told.below == ["A001"]


def test_an_override_keeps_who_authorised_it_and_what_was_promised() -> None:
    clearing = overridden().facts[-1]
    assert isinstance(clearing, f.Cleared)
    assert (clearing.authorised_by, clearing.promise_by) == (NOOR, KIM)
    assert clearing.promise == "a second copy"
    assert clearing.promise_until is not None


def test_a_format_after_an_override_may_still_lose_footage() -> None:
    told = overridden().formatted("camera", "A")
    assert told.stands == ("ready", [OVERRIDE, ("formatted_uncovered", "A001")])


def test_an_override_does_not_fall_when_another_copy_is_lost() -> None:
    assert overridden().drive_lost("RAID").stands == ("cleared", [OVERRIDE])


def test_an_override_stands_when_the_promise_is_kept_until_it_is_settled() -> None:
    told = overridden().checked("SHUTTLE")
    assert told.stands == ("cleared", [OVERRIDE])
    assert told.uncovered == []
    assert told.settled("cleared 1", "cleared_by_override").stands == ("cleared", [])


def test_a_roll_closed_later_ends_an_override() -> None:
    told = overridden().loaded("B", "B003").pulled(gb=1)
    assert told.stands == ("exposed", [OVERRIDE, ("loaded_uncovered", "A001")])


def test_an_override_can_be_withdrawn() -> None:
    assert overridden().clearing_withdrawn().stands == ("exposed", [OVERRIDE])


def test_an_override_covers_only_what_the_card_held_then() -> None:
    """Two rolls, both cleared by it; then one more is found on the card."""
    told = story("S-014").shot("A001").loaded("B", "B003").pulled(gb=1).overridden()
    assert told.status == "cleared"
    assert told.uncovered == ["A001", "B003"]
    told.pulled(gb=5, at="15:00")
    assert told.status == "exposed"


def test_an_override_that_was_not_needed_is_an_ordinary_clearing() -> None:
    """It makes no mishap, and falls like any other."""
    told = story("S-014").shot("A001").backed_up().overridden()
    assert told.stands == ("cleared", [])
    assert told.drive_lost("RAID").stands == ("exposed", [])


def test_an_override_that_was_needed_only_in_hindsight_is_a_mishap() -> None:
    told = story("S-014").shot("A001").backed_up().overridden().voids("copy_checked 2")
    assert told.stands == ("cleared", [OVERRIDE])


def test_a_clearing_without_an_override_reason_is_none() -> None:
    told = story("S-014").shot("A001").checked("RAID").cleared()
    assert told.stands == ("exposed", [("cleared_uncovered", None)])
