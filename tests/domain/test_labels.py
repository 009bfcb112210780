"""A label is on one card at a time, and a fact is of the card that had it then."""

from __future__ import annotations

import pytest

from tests.stories import Story, production, story
from tracker.domain.errors import LabelInUse, Misnamed, UnknownLabel


def refused(told: Story) -> list[tuple[str, str, type[Exception]]]:
    """What cannot be understood: fact, field, and why."""
    with pytest.raises(Misnamed) as refusal:
        _ = told.production
    return [(fact, field, type(error)) for fact, field, error in refusal.value.found]


def nearest(told: Story) -> tuple[str, ...]:
    """The labels most like the first that nobody registered."""
    with pytest.raises(Misnamed) as refusal:
        _ = told.production
    error = refusal.value.found[0][2]
    assert isinstance(error, UnknownLabel)
    return error.nearest


def used_again() -> Story:
    """The card S-014 became S-099 at 12:00, and another card got its label."""
    told = story("S-014").shot("A001").relabelled("S-099", at="12:00")
    return told.card("S-014").registered()


def test_a_card_goes_by_its_new_label() -> None:
    told = story("S-014").shot("A001").relabelled("S-099").backed_up()
    assert told.stands == ("backed up", [])
    assert [view.label for view in told.production.views()] == ["S-099"]
    assert told.state.labels == ("S-014", "S-099")


def test_a_label_used_again_is_of_the_new_card_from_then_on() -> None:
    told = used_again().loaded("A", "A002", formatted=True)
    assert told.stands == ("loaded", [])
    assert told.holds == ["A002"]
    assert told.card("S-099", register=False).stands == ("exposed", [])
    assert told.holds == ["A001"]


def test_a_late_fact_is_of_the_card_that_had_the_label_at_its_time() -> None:
    """A copy of 11:30 was of the card that was called S-014 then."""
    told = used_again().late("11:30").checked("RAID")
    assert told.stands == ("unseen", [])
    told.card("S-099", register=False)
    assert [finish.drive for finish in told.roll("A001").standing()] == ["RAID"]


def test_a_card_with_a_label_used_again_counts_from_when_the_other_gave_it_up() -> None:
    """Its registration is typed in on the third day; the facts of the first afternoon are its."""
    told = story("S-014").shot("A001").relabelled("S-099", at="12:00")
    told.card("S-014").loaded("A", "A002", formatted=True, at="13:00").pulled(gb=1)
    told.day(3).registered()
    assert told.stands == ("exposed", [])
    assert told.holds == ["A002"]


def test_an_old_label_that_nobody_uses_finds_no_card_after_it_was_given_up() -> None:
    told = story("S-014").relabelled("S-099", at="12:00").card("S-014").loaded("A")
    assert refused(told) == [("loaded 1", "card", UnknownLabel)]


def test_an_old_label_finds_the_card_in_its_history() -> None:
    told = story("S-014").shot("A001").relabelled("S-099", at="12:00").card("S-014")
    told.late("11:30").checked("RAID").card("S-099", register=False)
    assert [finish.drive for finish in told.roll("A001").standing()] == ["RAID"]


def test_a_label_that_is_on_another_card_cannot_be_given() -> None:
    told = production().card("S-015").card("S-014").relabelled("S-015")
    assert refused(told) == [("relabelled 1", "new_label", LabelInUse)]


def test_two_cards_can_swap_labels_over_a_third() -> None:
    told = production().card("S-014").shot("A001").card("S-015").shot("B001")
    told.card("S-014").relabelled("S-999").card("S-015").relabelled("S-014")
    told.card("S-999", register=False).relabelled("S-015")
    held = {view.label: [roll.name for roll in view.holds] for view in told.production.views()}
    assert held == {"S-014": ["B001"], "S-015": ["A001"]}


def test_a_label_that_nobody_registered_is_answered_with_the_nearest() -> None:
    told = story("S-014").card("S-041", register=False).loaded("A")
    assert refused(told) == [("loaded 1", "card", UnknownLabel)]
    assert nearest(told) == ("S-014",)


def test_a_drive_that_nobody_registered_is_answered_with_the_nearest() -> None:
    told = story("S-014").shot("A001").checked("RIAD")
    assert refused(told) == [("copy_checked 1", "drive", UnknownLabel)]
    assert nearest(told) == ("RAID",)


@pytest.mark.parametrize("made", [Story.started, Story.finished])
def test_a_copy_made_from_a_drive_that_nobody_registered_is_refused(made) -> None:
    told = made(story("S-014").shot("A001"), "RAID", made_from="VUALT")
    assert [(field, kind) for _, field, kind in refused(told)] == [("from", UnknownLabel)]
    assert nearest(told) == ("VAULT",)


def test_every_fact_whose_label_means_nothing_is_named() -> None:
    told = story("S-014").shot("A001").checked("RIAD").card("S-041", register=False).loaded("A")
    assert refused(told) == [
        ("loaded 2", "card", UnknownLabel),
        ("copy_checked 1", "drive", UnknownLabel),
    ]


def test_two_cards_do_not_share_what_happens_to_them() -> None:
    told = production().card("S-014").shot("A001").card("S-015").shot("A001").backed_up()
    assert told.stands == ("backed up", [])
    assert told.card("S-014").stands == ("exposed", [])
    assert told.card("S-016").stands == ("unseen", [])


def test_a_fact_that_says_the_new_label_before_it_was_given_is_of_the_card_that_got_it() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True).relabelled("S-099", at="12:00")
    assert told.late("11:00").pulled(gb=1).stands == ("exposed", [])


def test_a_label_given_again_to_its_own_card_changes_nothing() -> None:
    told = story("S-014").shot("A001").relabelled("S-014").backed_up()
    assert told.stands == ("backed up", [])
