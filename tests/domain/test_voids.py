"""A mistake is voided by a later fact, and stays readable."""

from __future__ import annotations

from tests.stories import Story, production, story


def mistaken() -> Story:
    """The card was pulled, and somebody voids that."""
    return story("S-014").shot("A001").voids("pulled 1")


def test_a_voided_fact_is_as_if_it_had_never_been_logged() -> None:
    assert mistaken().stands == ("loaded", [])


def test_a_voided_fact_stays_readable() -> None:
    told = mistaken()
    events = [fact.event for fact in told.production.facts["registered 1"]]
    assert events == ["registered", "loaded", "pulled", "voided"]


def test_voiding_a_void_restores() -> None:
    told = mistaken().voids("voided 1")
    assert told.stands == ("exposed", [])
    assert told.voids("voided 2").stands == ("loaded", [])


def test_a_mishap_goes_with_the_fact_that_made_it() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").voids("loaded 2")
    assert told.stands == ("exposed", [])


def test_a_fact_that_is_voided_can_bring_a_mishap_to_light() -> None:
    told = story("S-014").shot("A001").voids("loaded 1")
    assert told.mishaps == [("pulled_unlogged", "S-014/2026-03-02/08:20")]


def test_a_void_reaches_within_one_card() -> None:
    told = production().card("S-014").shot("A001").card("S-015").voids("pulled 1")
    assert told.card("S-014").stands == ("exposed", [])


def test_a_void_of_a_card_does_not_reach_a_drive_or_the_production() -> None:
    told = story("S-014", rule=None).rule_set(copies=1).shot("A001").checked("RAID")
    told.drive_lost("RAID").voids("drive_lost 1").voids("rule_set 1")
    assert told.stands == ("exposed", [])
    assert told.drive_found("RAID").stands == ("backed up", [])


def test_a_void_of_a_drive_reaches_that_drive_only() -> None:
    told = story("S-014").shot("A001").backed_up().drive_lost("RAID")
    told.voids("drive_lost 1", drive="SHUTTLE").voids("copy_checked 1", drive="RAID")
    assert told.stands == ("exposed", [])
    assert told.voids("drive_lost 1", drive="RAID").stands == ("backed up", [])


def test_a_void_of_something_that_was_never_logged_changes_nothing() -> None:
    assert story("S-014").shot("A001").voids("pulled 9").stands == ("exposed", [])


def test_a_card_registered_by_mistake_can_be_voided_while_nothing_happened_to_it() -> None:
    told = production().card("S-014").card("S-015").voids("registered 2")
    assert [view.label for view in told.production.views()] == ["S-014"]


def test_a_registration_with_facts_after_it_cannot_be_voided() -> None:
    told = story("S-014").shot("A001").voids("registered 1")
    assert told.stands == ("exposed", [])
    assert told.state.registered is not None


def test_a_drive_with_facts_after_its_registration_cannot_be_voided() -> None:
    told = story("S-014").drive_moved("RAID", "lab").voids("drive_registered 1", drive="RAID")
    assert told.shot("A001").backed_up().stands == ("backed up", [])


def test_a_new_label_cannot_be_voided_once_the_old_one_is_used_again() -> None:
    told = story("S-014").shot("A001").relabelled("S-099").card("S-014").registered()
    told.card("S-099", register=False).voids("relabelled 1")
    assert sorted(view.label for view in told.production.views()) == ["S-014", "S-099"]


def test_a_void_that_was_logged_before_its_target_happened_reaches_it() -> None:
    """Phones send late: what counts is that it was logged, not when it happened."""
    told = story("S-014").loaded("A", "A001", formatted=True, at="12:00").pulled(gb=1)
    assert told.late("09:00").voids("pulled 1").stands == ("loaded", [])


def test_a_void_of_itself_changes_nothing() -> None:
    assert story("S-014").shot("A001").voids("voided 1").stands == ("exposed", [])


def test_a_new_label_can_be_voided() -> None:
    told = story("S-014").shot("A001").relabelled("S-099").voids("relabelled 1")
    assert [view.label for view in told.production.views()] == ["S-014"]
    assert told.card("S-014").stands == ("exposed", [])


def test_facts_after_a_new_label_that_was_voided_are_still_of_the_card() -> None:
    """Somebody said the wrong label for a while: the copies were made all the same."""
    told = story("S-014").shot("A001").relabelled("S-099").backed_up().voids("relabelled 1")
    assert told.card("S-014").stands == ("backed up", [])


def test_a_registration_can_be_voided_once_the_facts_after_it_are() -> None:
    told = production().card("S-015").card("S-014").noted("dust on the casing").voids("noted 1")
    told.voids("registered 2")
    assert [view.label for view in told.production.views()] == ["S-015"]
