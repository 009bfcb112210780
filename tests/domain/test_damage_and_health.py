"""Is a card fit for use: damage that was seen, and what a health tool says."""

from __future__ import annotations

import pytest

from tests.stories import Story, story
from tracker.domain import facts as f
from tracker.domain.fitness import fitness

PARTS = ["connector", "casing", "edge", "screw mount", "label", "contacts", "write-protect slide"]


@pytest.mark.parametrize(
    ("severity", "status"), [(1, "ready"), (2, "ready"), (3, "set aside"), (4, "set aside")]
)
@pytest.mark.parametrize("part", PARTS)
def test_damage_of_severity_three_or_four_sets_the_card_aside_at_once(
    part: str, severity: int, status: str
) -> None:
    told = story("S-014").formatted("camera", "A").damaged(severity, part)
    assert told.stands == (status, [])


def test_settling_damage_does_not_return_the_card() -> None:
    told = story("S-014").formatted("camera", "A").damaged(3).damage_settled("damage_noted 1")
    assert told.stands == ("set aside", [])
    assert told.state.damage_settled == ("damage_noted 1",)
    assert told.returned_to_service().stands == ("ready", [])


@pytest.mark.parametrize(
    ("verdict", "status"),
    [("good", "ready"), ("watch", "ready"), ("failing", "set aside"), ("unreadable", "ready")],
)
def test_a_failing_verdict_sets_the_card_aside(verdict: str, status: str) -> None:
    """Media that gives no readings is not readable, which is no fault of the card."""
    told = story("S-014").formatted("camera", "A").health_read(verdict)
    assert told.stands == (status, [])


def test_what_a_health_tool_does_not_say_is_unknown() -> None:
    told = story("S-014").health_read("good", wear_percent=3.0)
    assert told.state.health is not None
    assert told.state.health.wear_percent == 3.0
    assert told.state.health.media_errors is None


@pytest.mark.parametrize(
    "set_aside",
    [
        Story.set_aside,
        lambda told: told.damaged(4),
        lambda told: told.health_read("failing"),
        lambda told: told.started("RAID").failed("RAID", "unreadable"),
    ],
)
def test_every_set_aside_can_be_undone_with_a_reason(set_aside) -> None:
    told = story("S-014").shot("A001")
    set_aside(told)
    assert told.status == "set aside"
    assert told.returned_to_service().status == "exposed"


def test_a_card_set_aside_for_two_reasons_is_returned_once() -> None:
    told = story("S-014").formatted("camera", "A").damaged(3).health_read("failing")
    assert len(told.state.set_aside) == 2
    assert told.returned_to_service().stands == ("ready", [])


def test_a_card_returned_can_be_set_aside_again() -> None:
    told = story("S-014").formatted("camera", "A").damaged(3).returned_to_service().damaged(3)
    assert told.stands == ("set aside", [])


def test_a_measured_speed_sets_nothing_aside() -> None:
    told = story("S-014").formatted("camera", "A")
    told.tell(f.SpeedMeasured, write_bytes_per_s=1, method="full write")
    assert told.stands == ("ready", [])


def test_damage_stays_in_the_history_of_the_card() -> None:
    told = story("S-014").damaged(1, "casing").damaged(2, "edge")
    assert [(noted.part, noted.severity) for noted in told.state.damage] == [
        ("casing", 1),
        ("edge", 2),
    ]


def fit(told: Story) -> tuple[str, tuple[str, ...]]:
    judged = fitness(told.state)
    return judged.verdict, judged.reasons


def test_a_card_without_readings_is_not_readable_and_a_good_one_is_good() -> None:
    told = story("S-014").formatted("camera", "A")
    assert fit(told) == ("unreadable", ("it gives no readings",))
    assert fit(told.health_read("unreadable"))[0] == "unreadable"
    assert fit(told.health_read("good", wear_percent=0, interface_errors=0)) == ("good", ())


@pytest.mark.parametrize(
    ("wear", "judged"),
    [(None, ("good", ())), (69.9, ("good", ())), (70, ("watch", ("it is 70 % worn",)))],
)
def test_wear_from_seventy_per_cent_is_watched(
    wear: float | None, judged: tuple[str, tuple[str, ...]]
) -> None:
    assert fit(story("S-014").health_read("good", wear_percent=wear)) == judged


def test_errors_between_card_and_reader_are_watched() -> None:
    told = story("S-014").health_read("good", interface_errors=3)
    assert fit(told) == ("watch", ("3 errors between it and the reader",))


def test_what_the_tool_says_stands_with_the_other_reasons() -> None:
    told = story("S-014").health_read("failing", wear_percent=120)
    assert fit(told)[0] == "failing"
    assert fit(told)[1][1:] == ("it is 120 % worn",)
    assert fit(story("S-014").health_read("watch"))[0] == "watch"


@pytest.mark.parametrize(
    ("severity", "verdict"), [(1, "unreadable"), (2, "watch"), (3, "watch"), (4, "watch")]
)
def test_damage_is_watched_from_severity_two_until_it_is_settled(
    severity: int, verdict: str
) -> None:
    told = story("S-014").damaged(severity)
    assert fit(told)[0] == verdict
    assert fit(told.damage_settled("damage_noted 1"))[0] == "unreadable"
