"""Laws of the fold, for journals that no crew would keep.

200 journals a law; 5,000 with HYPOTHESIS_PROFILE=long, or with `-m long`. The quick run draws the
same journals every time, so that it fails for what was changed and for nothing else.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.domain.journals import journals
from tracker.domain import facts as f
from tracker.domain.card import CardState
from tracker.domain.fold import Production, can_step, fold, fold_production, in_order
from tracker.domain.mishaps import KINDS
from tracker.domain.rule import BackupRule
from tracker.domain.status import STATUSES, CardView
from tracker.domain.step import step
from tracker.domain.voids import effective

EXAMPLES = {"quick": 200, "long": 5_000}
PROFILE = os.environ.get("HYPOTHESIS_PROFILE", "quick")
RULE = BackupRule(copies=2, level="checksummed")

Journal = list[f.Fact]
Law = Callable[[Journal, int], None]


def run(profile: str) -> settings:
    return settings(
        max_examples=EXAMPLES.get(profile, EXAMPLES["quick"]),
        deadline=None,
        derandomize=profile == "quick",
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )


def folded(journal: Sequence[f.Fact]) -> Production:
    return fold_production(journal, rule=RULE)


def views(journal: Sequence[f.Fact]) -> list[CardView]:
    return folded(journal).views()


def cards(production: Production) -> Iterator[tuple[str, list[f.CardFact]]]:
    """Each card with the facts that count, in the order in which they happened."""
    for card_id, facts in production.facts.items():
        yield card_id, in_order(effective(facts, production.kept))


# The laws. chance: a number with which a law makes its own choices.


def every_card_has_one_status_of_eleven(journal: Journal, chance: int) -> None:
    """Any journal folds, to one card for each registration that counts."""
    for view in views(journal):
        assert view.status in STATUSES
        assert view.state.registered is not None
        assert (view.state.opened is None) == (view.camera is None)


def every_mishap_is_one_of_a_known_kind(journal: Journal, chance: int) -> None:
    """Of the card or of a roll that it held, and made by a fact that counts."""
    production = folded(journal)
    counting = {fact.id for _, facts in cards(production) for fact in facts}
    for view in production.views():
        for mishap in view.mishaps:
            assert KINDS[mishap.key.kind].of_card == (mishap.key.roll is None)
            assert mishap.key.roll is None or mishap.key.roll in view.state.rolls
            assert mishap.key.fact in counting


def no_uncovered_roll_stands_under_a_clearing(journal: Journal, chance: int) -> None:
    """Unless the card was cleared by an override, which is a mishap."""
    for view in views(journal):
        if view.status == "cleared" and view.uncovered:
            assert view.state.clearing is not None
            assert view.state.clearing.override
        if view.status == "backed up":
            assert not view.uncovered
        if view.state.visiting:
            assert view.status not in ("cleared", "ready")


def stepping_is_folding_and_keeps_what_was_kept(journal: Journal, chance: int) -> None:
    """After all steps were made, every state that was kept is still the fold of its facts."""
    production = folded(journal)
    for card_id, facts in cards(production):
        kept = [CardState(card_id)]
        for fact in facts:
            kept.append(step(kept[-1], fact, production.context))
        for number, state in enumerate(kept):
            assert state == fold(facts[:number], production.context, card_id=card_id)
        assert kept[-1] == production.cards[card_id]


def a_kept_state_can_be_stepped_from_twice(journal: Journal, chance: int) -> None:
    """No step can be seen in the state that it was made from, nor in a step made beside it."""
    production = folded(journal)
    for card_id, facts in cards(production):
        middle = chance % len(facts)
        kept = fold(facts[:middle], production.context, card_id=card_id)
        before = deepcopy(kept)
        state = first = step(kept, facts[middle], production.context)
        as_it_was = deepcopy(first)
        for fact in facts[middle + 1 :]:
            step(kept, fact, production.context)
            state = step(state, fact, production.context)
        assert kept == before
        assert first == as_it_was
        assert state == production.cards[card_id]


def a_service_that_steps_where_it_may_is_never_wrong(journal: Journal, chance: int) -> None:
    """In the order of logging: it folds anew for a void, and for what happened earlier."""
    production = folded(journal)
    for card_id, facts in production.facts.items():
        state = CardState(card_id)
        logged = sorted(facts, key=lambda fact: (fact.logged_at, fact.origin, fact.id))
        for number, fact in enumerate(logged, start=1):
            if can_step(state, fact):
                state = step(state, fact, production.context)
            else:
                state = fold(
                    logged[:number], production.context, card_id=card_id, keep=production.kept
                )
        assert state == production.cards[card_id]


def the_order_of_presentation_changes_nothing(journal: Journal, chance: int) -> None:
    shuffled = list(journal)
    Random(chance).shuffle(shuffled)
    assert views(shuffled) == views(journal)
    assert views(journal[::-1]) == views(journal)


def voiding_a_fact_equals_never_having_logged_it(journal: Journal, chance: int) -> None:
    """Any fact but a registration or a new label, on which others may rest."""
    targets = [fact for fact in journal if not isinstance(fact, NAMING)]
    if not targets:
        return
    target = targets[chance % len(targets)]
    void = void_of(target, journal[-1])
    never = [fact for fact in journal if fact is not target]
    assert views([*journal, void]) == views(never)
    again = replace(void, id="restores", target=void.id, logged_at=void.logged_at + SECOND)
    assert views([*journal, void, again]) == views(journal)


def no_fact_makes_a_roll_disappear(journal: Journal, chance: int) -> None:
    production = folded(journal)
    for card_id, facts in cards(production):
        state = CardState(card_id)
        for fact in facts:
            after = step(state, fact, production.context)
            assert state.rolls.keys() <= after.rolls.keys()
            assert set(after.held) <= after.rolls.keys()
            assert all(roll.wiped is None for roll in map(after.rolls.get, after.held) if roll)
            state = after


def a_drive_lost_and_found_at_the_end_is_as_it_was(journal: Journal, chance: int) -> None:
    """Unless it was lost before: then it is found for good."""
    drive = ("RAID", "SHUTTLE", "VAULT")[chance % 3]
    if any(isinstance(fact, f.DriveLost) and fact.drive == drive for fact in journal):
        return
    last = max(fact.occurred_at for fact in journal) + SECOND
    lost = f.DriveLost(id="lost", occurred_at=last, logged_at=last, origin="here", drive=drive)
    found = f.DriveFound(
        id="found", occurred_at=last + SECOND, logged_at=last + SECOND, origin="here", drive=drive
    )
    without = {roll.id for view in views(journal) for roll in view.below}
    while_lost = {roll.id for view in views([*journal, lost]) for roll in view.below}
    assert without <= while_lost
    assert views([*journal, lost, found]) == views(journal)


SECOND = timedelta(seconds=1)
NAMING = (f.Registered, f.Relabelled, f.DriveRegistered)


def void_of(target: f.Fact, last: f.Fact) -> f.AnyVoid:
    """A void of one fact, logged after everything."""
    when = max(target.occurred_at, last.logged_at) + timedelta(days=9)
    given = {
        "id": "void",
        "occurred_at": target.occurred_at,
        "logged_at": when,
        "origin": "here",
        "target": target.id,
        "reason": "slip",
    }
    if isinstance(target, f.CardFact):
        return f.Voided(card=target.card, **given)
    if isinstance(target, f.DriveFact):
        return f.DriveVoided(drive=target.drive, **given)
    return f.ProductionVoided(**given)


LAWS: list[Law] = [
    every_card_has_one_status_of_eleven,
    every_mishap_is_one_of_a_known_kind,
    no_uncovered_roll_stands_under_a_clearing,
    stepping_is_folding_and_keeps_what_was_kept,
    a_kept_state_can_be_stepped_from_twice,
    a_service_that_steps_where_it_may_is_never_wrong,
    the_order_of_presentation_changes_nothing,
    voiding_a_fact_equals_never_having_logged_it,
    no_fact_makes_a_roll_disappear,
    a_drive_lost_and_found_at_the_end_is_as_it_was,
]
CHANCE = st.integers(0, 2**16)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.__name__)
@run(PROFILE)
@given(journal=journals(), chance=CHANCE)
def test_the_law_holds(law: Law, journal: Journal, chance: int) -> None:
    law(journal, chance)


@pytest.mark.long
@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.__name__)
@run("long")
@given(journal=journals(most=40), chance=CHANCE)
def test_the_law_holds_for_thousands_of_long_journals(
    law: Law, journal: Journal, chance: int
) -> None:
    law(journal, chance)
