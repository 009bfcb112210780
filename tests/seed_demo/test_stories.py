"""What happened in the six weeks, as the domain understands it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import get_args

import pytest

from tracker.domain.facts import CardFact, Fact
from tracker.domain.fold import Production
from tracker.domain.status import CardView, Status


def events(production: Production, event: str, **fields: object) -> list[Fact]:
    """Facts of cards of that event, with those values."""
    everything = [fact for facts in production.facts.values() for fact in facts]
    named = [fact for fact in everything if fact.event == event]
    return [f for f in named if all(getattr(f, k) == v for k, v in fields.items())]


def mishaps(production: Production, *, stand: bool) -> set[str]:
    """Kinds of mishap that stand, or that somebody settled."""
    states = production.cards.values()
    return {m.key.kind for s in states for m in s.mishaps.values() if m.stands == stand}


def view_of(production: Production, status: Status) -> CardView:
    return next(view for view in production.views() if view.status == status)


@pytest.mark.parametrize("status", get_args(Status))
def test_every_status_is_to_be_seen_when_the_story_stops(
    production: Production, status: Status
) -> None:
    assert view_of(production, status)


def test_other_seeds_end_with_every_status_too(play: Callable[[int], Production]) -> None:
    for seed in range(3):
        assert {view.status for view in play(seed).views()} == set(get_args(Status))


def test_one_card_is_in_danger_it_was_formatted_with_the_only_copy(
    production: Production,
) -> None:
    (danger,) = [view for view in production.views() if view.in_danger]

    assert danger.status == "set aside"
    assert {m.key.kind for m in danger.mishaps} == {"loaded_uncovered", "formatted_uncovered"}
    (lost,) = danger.below
    assert not lost.copies


def test_apart_from_it_one_warning_stands(production: Production) -> None:
    standing = mishaps(production, stand=True)

    assert standing == {"loaded_uncovered", "formatted_uncovered", "pull_missing"}


def test_older_mishaps_were_settled_with_a_reason(production: Production) -> None:
    assert mishaps(production, stand=False) == {
        "cleared_by_override",
        "copy_differs",
        "copy_short",
        "formatted_on_computer",
        "formatted_uncovered",
        "loaded_uncovered",
        "pull_missing",
    }


def test_the_missing_card_owes_nothing(production: Production) -> None:
    assert not view_of(production, "missing").uncovered


def test_what_is_below_the_rule_is_lost_or_still_at_work(production: Production) -> None:
    below = [view.status for view in production.views() if view.below]

    assert sorted(below) == ["copied", "copying", "exposed", "set aside"]


def test_the_usual_order_is_load_format_shoot(production: Production) -> None:
    at_once = events(production, "loaded", formatted=True)

    assert len(at_once) > 0.7 * len(events(production, "loaded"))


HAPPENED: dict[str, tuple[str, dict[str, object], int]] = {
    "a copy was interrupted": ("copy_failed", {"reason": "interrupted"}, 1),
    "a copy differed": ("copy_failed", {"reason": "differs"}, 1),
    "mirror cards": ("loaded", {"loaded_as": "mirror"}, 2),
    "a roll was renamed": ("roll_renamed", {}, 1),
    "camera tests were written off": ("written_off", {}, 2),
    "a typed zero, and the pull of the lost roll's card": ("declared_empty", {}, 2),
    "cosmetic damage": ("damage_noted", {"severity": 1}, 1),
    "damage that sets aside": ("damage_noted", {"severity": 3}, 1),
    "two cards went missing": ("reported_missing", {}, 2),
    "one of them was found": ("found", {}, 1),
    "a visiting card was given back": ("handed_over", {"outside": True}, 1),
    "a mistake was voided": ("voided", {}, 1),
    "a card was formatted on a computer": ("formatted", {"where": "computer"}, 1),
    "a card was retired worn": ("retired", {"reason": "worn"}, 1),
}


@pytest.mark.parametrize("story", HAPPENED)
def test_it_happened_as_often_as_it_should(production: Production, story: str) -> None:
    event, fields, times = HAPPENED[story]

    assert len(events(production, event, **fields)) == times


def test_a_pull_was_typed_after_later_facts(production: Production) -> None:
    def hours_late(facts: list[CardFact]) -> bool:
        typed = sorted(facts, key=lambda fact: fact.logged_at)
        return any(b.occurred_at < a.occurred_at for a, b in pairwise(typed))

    late = [facts for facts in production.facts.values() if hours_late(list(facts))]
    assert len(late) == 1


def test_over_lunch_a_card_went_back_in_as_the_same_roll(production: Production) -> None:
    states = production.cards.values()
    resumed = [roll for state in states for roll in state.rolls.values() if roll.fillings > 1]

    assert len(resumed) == 1


def test_a_card_held_two_rolls_after_a_load_without_a_format(production: Production) -> None:
    together = [
        (first, second)
        for state in production.cards.values()
        for first, second in pairwise(state.rolls.values())
        if first.wiped_by == second.wiped_by and first.wiped_by and first.bytes and second.bytes
    ]
    assert len(together) == 1


def test_the_short_copy_lacked_one_clip_of_eighteen(production: Production) -> None:
    (settled,) = events(production, "settled", mishap="copy_short")
    (short,) = events(production, "copy_finished", id=getattr(settled, "target", ""))
    copies = events(production, "copy_finished", roll=getattr(short, "roll", ""))

    clips = sorted(getattr(copy, "clips", 0) for copy in copies)
    assert clips == [17, 18, 18, 18]


def test_every_day_had_its_sound_roll(production: Production) -> None:
    assert len(events(production, "loaded", camera="SN")) == 30


def test_a_shuttle_was_lost_for_an_evening(production: Production) -> None:
    lives = {drive.label: drive.states for drive in production.context.drives.values()}

    lost = [label for label, states in lives.items() if any(state.lost for state in states)]
    assert len(lost) == 1
    assert all(states[-1].usable for states in lives.values())
