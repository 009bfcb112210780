"""What each card needs next, who acts, and what is in danger first."""

from __future__ import annotations

import pytest

from tests.stories import Story, production, story
from tracker.domain.dangers import dangers
from tracker.domain.doubts import doubts, labels_out
from tracker.domain.needs import Need, need, needs


def needed(told: Story) -> Need:
    return need(told.view(), told.production.context)


def given(status: str) -> Story:
    """A card of each status, by the shortest way."""
    shot = {"exposed", "copying", "copied", "backed up", "cleared"}
    told = story("S-014").shot("A001") if status in shot else story("S-014")
    if status == "ready":
        told.formatted("camera", "A")
    if status == "loaded":
        told.loaded("A", "A001")
    if status == "copying":
        told.started("RAID")
    if status == "copied":
        told.finished("RAID").finished("SHUTTLE")
    if status in ("backed up", "cleared"):
        told.checked("RAID").checked("SHUTTLE")
    if status == "cleared":
        told.cleared()
    if status == "set aside":
        told.set_aside("pins look bent")
    if status == "missing":
        told.reported_missing()
    if status == "retired":
        told.retired()
    assert told.status == status
    return told


@pytest.mark.parametrize(
    ("status", "who", "may_format", "what"),
    [
        ("unseen", "data manager", False, "Look at what is on it, and check it in."),
        ("ready", "data manager", None, "Ready for a camera."),
        ("loaded", "camera crew", None, "In camera A, shooting A001. Unmount before pulling."),
        (
            "exposed",
            "loader",
            False,
            "Do not format. Roll A001 has no copy that counts; the rule asks for 2: make 2 copies, "
            "checksummed, each on its own drive.",
        ),
        (
            "copying",
            "cart",
            False,
            "Being copied (A001). Do not format; check the copies when they are done.",
        ),
        (
            "copied",
            "data manager",
            False,
            "Do not format. The copies of roll A001 are not checked as the rule asks (RAID is "
            "claimed, SHUTTLE is claimed): check them, checksummed.",
        ),
        ("backed up", "data manager", False, "Everything on it is covered: clear it."),
        ("cleared", "loader", True, "May be formatted, in the camera."),
        (
            "set aside",
            "data manager",
            False,
            "Do not use: pins look bent. A data manager decides.",
        ),
        ("missing", "everyone", False, "Look for it, and log it as found."),
        ("retired", "nobody", None, "Nothing: it is out of the pool."),
    ],
)
def test_each_status_says_who_acts_and_what_to_do(
    status: str, who: str, may_format: bool | None, what: str
) -> None:
    told = needed(given(status))
    assert (told.who, told.may_format, told.what) == (who, may_format, what)


def test_a_card_gone_with_the_only_copy_says_so_and_is_never_to_be_formatted() -> None:
    told = needed(story("S-014").shot("A001").reported_missing())
    assert told.may_format is False
    assert "gone with A001, which is not backed up" in told.what
    left = needed(story("S-014").shot("A001").retired("sold"))
    assert (left.may_format, "call whoever has it" in left.what) == (False, True)


def test_a_card_formatted_on_a_computer_is_formatted_in_the_camera_first() -> None:
    told = needed(story("S-014").formatted("computer"))
    assert told.what == "Format it in the camera before it is used."


def test_a_visiting_card_is_given_back() -> None:
    told = needed(story("S-014", visiting=True).checked_in("empty"))
    assert told.what == "Give it back: nothing on it is uncovered."


def test_what_is_gone_uncovered_comes_first_and_of_the_rest_the_oldest() -> None:
    told = production().card("S-014").card("S-015").card("S-016")
    told.card("S-014", register=False).formatted("camera", "A")
    told.card("S-015", register=False).shot("A001")
    told.card("S-014", register=False).shot("A002")
    told.card("S-016", register=False).shot("A003").reported_missing()
    whole = told.production
    labels = [one.card.label for one in needs(whole.views(), whole.context)]
    assert labels == ["S-016", "S-015", "S-014"]


def facts_of(told: Story) -> dict[str, object]:
    return {fact.id: fact for facts in told.production.facts.values() for fact in facts}


def found(told: Story) -> list[tuple[str | None, str, bool | None]]:
    facts = facts_of(told)
    return [
        (one.roll, one.to_do[:20], one.covered)
        for one in dangers(told.production.views(), facts)  # type: ignore[arg-type]
    ]


def test_lost_footage_is_told_once_with_all_that_happened() -> None:
    told = story("S-014").shot("A001").loaded("B", "B001").formatted("camera", "B")
    (one,) = dangers(told.production.views(), facts_of(told))  # type: ignore[arg-type]
    assert (one.card, one.roll, one.covered, one.rank) == ("S-014", "A001", False, 0)
    assert one.says.startswith("formatted while a roll on it was not backed up")
    assert "loaded while it held a roll that is not backed up" in one.says
    assert one.to_do.startswith("Stop:")


def test_what_was_mended_since_only_waits_to_be_settled() -> None:
    told = story("S-014").shot("A001").checked("RAID").loaded("B", "B001").formatted("camera", "B")
    assert found(told) == [("A001", "Stop: do not load, f", False)]
    told.finished("SHUTTLE", roll="A001", made_from="RAID").checked("SHUTTLE", roll="A001")
    assert found(told) == [("A001", "It has its copies by", True)]


def test_a_wiped_card_gives_no_leave_until_a_person_settles_what_was_lost() -> None:
    told = story("S-014").shot("A001").formatted("camera", "A")
    assert told.status == "ready"
    (one,) = needs(told.production.views(), told.production.context)
    assert (one.rank, one.may_format) == (1, False)
    assert one.what.startswith("Formatted while a roll on it was not backed up")
    assert "Stop: do not load, format, repair or write to this card." in one.what


def test_warnings_and_notes_are_no_danger() -> None:
    assert found(story("S-014").shot("A001").noted("a remark").formatted("computer")) != []
    assert found(story("S-014").formatted("computer")) == []


def test_a_card_that_is_probably_out_is_told_as_shot_and_not_copied() -> None:
    told = production().card("S-014").card("S-015")
    told.card("S-014", register=False).loaded("A", "A001")
    told.card("S-015", register=False).loaded("A", "A002")
    whole = told.production
    out = labels_out(doubts(whole, whole.views()))
    first, second = needs(whole.views(), whole.context, out)
    assert (first.card.label, first.who, first.may_format) == ("S-014", "loader", False)
    assert first.what.startswith("Do not format: it is probably out")
    assert (first.card.status, second.who) == ("loaded", "camera crew")
