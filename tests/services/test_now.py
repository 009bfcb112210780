"""What Now reads from the rows is what the domain says of the journal, whatever was logged."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing

import pytest
from hypothesis import HealthCheck, example, given, settings

from tests.services.happenings import Happening, Teller, tell
from tests.services.test_rows_agree import PROFILE, STORIES, Story, Told, begin
from tracker.domain.dangers import dangers
from tracker.domain.doubts import doubts, labels_out
from tracker.domain.mishaps import SEVERITIES
from tracker.domain.needs import needs
from tracker.services import standing
from tracker.services.looking import whole_production
from tracker.services.now import now
from tracker.store.engine import Store

MIRROR_WIPED: Story = [
    (Happening("mirror", 0, 0, 0, 0), True, False),
    (Happening("wipe", 0, 0, 0, 0), True, False),
    (Happening("drive", 0, 0, 0, 0), True, False),
]
THREE_IN_A: Story = [(Happening("load", number, number, 0, 0), True, False) for number in range(3)]
FORMATTED_LATE_AND_SET_ASIDE: Story = [
    (Happening("load", 0, 1, 0, 30), False, False),
    (Happening("wipe", 0, 0, 0, 0), False, False),
    (Happening("say", 0, 6, 0, 0), False, False),
]
BACKED_UP_AND_WIPED = (Happening("cycle", 0, 0, 1, 0), True, False)
DRIVE_LOST = (Happening("drive", 0, 0, 0, 0), True, False)
SAID_TO_BE_BAD = (Happening("say", 0, 5, 1, 0), True, False)
SETTLED = (Happening("settle", 0, 0, 0, 0), True, False)


def compare(told: Told) -> None:
    """The page's lists beside those of the domain, from every fact."""
    production = whole_production(told.service)
    views = production.views()
    facts = {fact.id: fact for found in production.facts.values() for fact in found}
    seen, found = now(told.service), standing.every_mishap(told.service)
    for severity in SEVERITIES:
        expected = dangers(views, facts, severity=severity)
        assert [(d.card, d.roll, d.covered, d.at[0], d.says, d.to_do) for d in expected] == [
            (d.card, d.roll, d.covered, d.at[0], d.says, d.to_do) for d in found[severity]
        ]
    doubtful = doubts(production, views)
    assert sorted(map(repr, doubtful)) == sorted(map(repr, seen.doubts))
    wanted = needs(views, production.context, labels_out(doubtful))
    assert [(n.card.label, n.card.status, n.rank, n.who, n.what, n.may_format) for n in wanted] == [
        (n.label, n.status, n.rank, n.who, n.next, n.may_format) for n in seen.lines
    ]
    below = sorted(roll.name for card in views for roll in card.below)
    assert sorted(roll.roll for roll in standing.below(told.service)[0]) == below
    assert seen.below == len(below)
    assert bool(seen.gone or seen.dangers) == any(card.in_danger for card in views)


@pytest.mark.parametrize("dialect", ["sqlite", "postgresql"])
@settings(
    max_examples=400 if PROFILE == "long" else 25,
    deadline=None,
    derandomize=PROFILE == "quick",
    suppress_health_check=list(HealthCheck),
)
@example(story=MIRROR_WIPED)
@example(story=THREE_IN_A)
@example(story=FORMATTED_LATE_AND_SET_ASIDE)
@example(story=[BACKED_UP_AND_WIPED, DRIVE_LOST])
@example(story=[BACKED_UP_AND_WIPED, DRIVE_LOST, SETTLED])
@example(story=[BACKED_UP_AND_WIPED, SAID_TO_BE_BAD])
@given(story=STORIES)
def test_now_says_what_the_domain_says(
    new_store: Callable[..., Store], dialect: str, story: Story
) -> None:
    with closing(new_store(dialect)) as store:
        told = begin(store, days=1)
        teller = Teller(told.mishaps)
        told.hear(teller.inventory(), live=False)
        for happening, live, _ in story:
            said = tell(teller, happening)
            told.clock.now = max(told.clock.now, teller.now)
            for obj in said:
                told.hear([obj], live=live)
        compare(told)
