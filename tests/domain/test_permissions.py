"""What we withhold, with each reason and what would settle it."""

from __future__ import annotations

from typing import Any

from tests.stories import Story, production, story
from tracker.domain import facts as f
from tracker.domain.facts import CameraSet
from tracker.domain.permissions import Reason, may_clear, may_load
from tracker.domain.rule import BackupRule


def clear(told: Story) -> list[Reason]:
    """Why not, as of the last fact."""
    return may_clear(told.state, told.production.context, f.moment(told.facts[-1]))


def codes(reasons: list[Reason]) -> list[tuple[str, str | None]]:
    return [(reason.code, reason.roll) for reason in reasons]


def load(told: Story, *, roll: str | None = None, body: str | None = None, **fields: Any):
    """Why not into camera A."""
    at = told.facts[-1]
    camera = CameraSet(
        id="camera A",
        occurred_at=at.occurred_at,
        logged_at=at.logged_at,
        origin="here",
        letters="A",
        unit="main",
        **fields,
    )
    reasons = may_load(told.state, camera, told.production.context, roll=roll, body=body)
    return codes(reasons)


# May it be cleared


def test_a_card_that_is_backed_up_may_be_cleared() -> None:
    assert clear(story("S-014").shot("A001").backed_up()) == []


def test_a_card_with_an_open_roll_may_not_be_cleared() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True)
    assert codes(clear(told)) == [("loaded", "A001")]


def test_a_card_that_nobody_looked_at_may_not_be_cleared() -> None:
    assert codes(clear(story("S-014"))) == [("unseen", None)]


def test_a_visiting_card_may_not_be_cleared() -> None:
    assert codes(clear(story("S-014", visiting=True).checked_in("empty"))) == [("visiting", None)]


def test_a_card_with_an_uncovered_roll_may_not_be_cleared() -> None:
    """The reason names the roll, the copy that there is, and the one that is wanting."""
    (reason,) = clear(story("S-014").shot("A001").checked("RAID"))
    assert (reason.code, reason.roll) == ("copies", "A001")
    assert "RAID" in reason.says
    assert "1 of 2" in reason.says
    assert "1" in reason.settles
    assert "checksummed" in reason.settles


def test_a_card_whose_copies_are_not_checked_may_not_be_cleared() -> None:
    (reason,) = clear(story("S-014").shot("A001").checked("RAID").finished("SHUTTLE"))
    assert (reason.code, reason.roll) == ("level", "A001")
    assert "SHUTTLE is claimed" in reason.says
    assert "checksummed" in reason.settles


def test_a_card_with_a_roll_that_post_calls_bad_may_not_be_cleared() -> None:
    told = story("S-014").shot("A001").backed_up().received("A001", "bad")
    assert codes(clear(told)) == [("post_says_bad", "A001")]


def test_a_reason_says_where_a_copy_is_wanting() -> None:
    away = story("S-014", rule=BackupRule(copies=2, off_site=1)).shot("A001").backed_up()
    assert "off site" in clear(away)[0].settles
    kinds = story("S-014", rule=BackupRule(copies=2, kinds=3)).shot("A001").backed_up()
    assert "kind" in clear(kinds)[0].settles
    post = story("S-014", rule=BackupRule(copies=2, receipt=True)).shot("A001").backed_up()
    assert "post" in clear(post)[0].settles


def test_every_uncovered_roll_is_a_reason() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003").pulled(gb=1)
    assert codes(clear(told)) == [("copies", "A001"), ("copies", "B003")]


def test_a_card_held_back_may_not_be_cleared_until_its_days_are_over() -> None:
    told = story("S-014", rule=BackupRule(copies=2, hold_days=1))
    told.loaded("A", "A001", formatted=True).pulled(gb=480, at="12:00").backed_up()
    (reason,) = clear(told)
    assert (reason.code, reason.roll) == ("hold", "A001")
    assert "2026-03-03 12:00" in reason.says
    assert codes(clear(told.day(2).noted("x"))) == [("hold", "A001")]
    assert clear(told.day(3).noted("x")) == []


# May it go into a camera


def test_a_fit_card_may_be_loaded() -> None:
    assert load(story("S-014").formatted("camera", "A")) == []


def test_a_card_set_aside_retired_or_missing_should_not_be_loaded() -> None:
    assert load(story("S-014").set_aside()) == [("set aside", None)]
    assert load(story("S-014").retired()) == [("retired", None)]
    assert load(story("S-014").reported_missing()) == [("missing", None)]


def test_a_card_with_an_uncovered_roll_should_not_be_loaded() -> None:
    assert load(story("S-014").shot("A001").checked("RAID")) == [("uncovered", "A001")]
    assert load(story("S-014").shot("A001").backed_up()) == []


def test_a_card_may_go_back_to_resume_its_roll() -> None:
    told = story("S-014").shot("A001")
    assert load(told, roll="A001") == []
    assert load(told, roll="A002") == [("uncovered", "A001")]


def test_a_roll_of_another_camera_cannot_be_resumed() -> None:
    assert ("uncovered", "A001") in load(story("S-014").shot("A001", camera="B"), roll="A001")


def test_a_card_last_formatted_in_another_camera_should_be_formatted_first() -> None:
    assert load(story("S-014").formatted("camera", "B")) == [("body", None)]


def test_a_card_last_formatted_in_another_body_should_be_formatted_first() -> None:
    told = story("S-014").loaded("A", "A001", formatted=True, body="body 1").pulled(gb=0)
    told.declared_empty("A001")
    assert load(told, body="body 2") == [("body", None)]
    assert load(told, body="body 1") == []


def test_a_card_last_formatted_to_another_file_system_should_be_formatted_first() -> None:
    told = story("S-014").formatted("camera", "A", file_system="udf")
    assert load(told, formats_to="exfat") == [("file system", None)]
    assert load(told, formats_to="udf") == []
    assert load(told) == []


def test_a_card_of_the_wrong_media_should_not_be_loaded() -> None:
    told = story("S-014", media="2.5in SSD").formatted("camera", "A")
    assert load(told, takes="small card") == [("media", None)]
    assert load(told, takes="2.5IN SSD") == []


def test_a_card_that_is_too_slow_should_not_be_loaded() -> None:
    told = production().card("S-014", sustained_write_bytes_per_s=450_000_000)
    told.formatted("camera", "A")
    assert load(told, needs_write_bytes_per_s=450_000_001) == [("too slow", None)]
    assert load(told, needs_write_bytes_per_s=450_000_000) == []
    unknown = story("S-014").formatted("camera", "A")
    assert load(unknown, needs_write_bytes_per_s=450_000_001) == []


def test_a_load_that_was_warned_against_is_a_fact_all_the_same() -> None:
    told = story("S-014").shot("A001").loaded("B", "B003")
    assert told.stands == ("loaded", [("loaded_uncovered", "A001")])


def test_damage_speaks_against_a_card_that_is_used_again_until_it_is_dealt_with() -> None:
    told = story("S-014").formatted("camera", "A").damaged(3)
    assert load(told) == [("set aside", None)]
    told.returned_to_service()
    assert load(told) == [("damage", None)]
    told.damage_settled("damage_noted 1")
    assert load(told) == []
