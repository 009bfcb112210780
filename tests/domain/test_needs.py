"""What each card needs next, who acts, and what is in danger first."""

from __future__ import annotations

import pytest

from tests.stories import Story, production, story
from tracker.domain.dangers import Danger, dangers
from tracker.domain.doubts import doubts, labels_out
from tracker.domain.facts import CardFact
from tracker.domain.needs import Need, need, needs
from tracker.domain.rule import BackupRule
from tracker.domain.words import large


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


def told_of(told: Story) -> list[Danger]:
    production = told.production
    facts = {
        f.id: f for facts in production.facts.values() for f in facts if isinstance(f, CardFact)
    }
    return dangers(production.views(), facts)


def found(told: Story) -> list[tuple[str | None, str, bool | None]]:
    return [(one.roll, one.to_do[:20], one.covered) for one in told_of(told)]


def test_lost_footage_is_told_once_with_all_that_happened() -> None:
    told = story("S-014").shot("A001").loaded("B", "B001").formatted("camera", "B")
    (one,) = told_of(told)
    assert (one.card, one.roll, one.covered, one.rank) == ("S-014", "A001", False, 0)
    assert one.says.startswith("formatted while a roll on it was not backed up")
    assert "loaded while it held a roll that is not backed up" in one.says
    assert one.to_do.startswith("Stop:")


def test_what_was_mended_since_only_waits_to_be_settled() -> None:
    told = story("S-014").shot("A001").checked("RAID").loaded("B", "B001").formatted("camera", "B")
    assert found(told) == [("A001", "Stop: do not load, f", False)]
    told.finished("SHUTTLE", roll="A001", made_from="RAID").checked("SHUTTLE", roll="A001")
    assert found(told) == [("A001", "It has its copies by", True)]


def test_a_card_that_is_kept_for_some_days_is_not_to_be_cleared_at_once() -> None:
    held = BackupRule(copies=2, level="checksummed", hold_days=3)
    told = needed(story("S-014", rule=held).shot("A001").backed_up())
    assert told.what == (
        "Everything on it is covered: clear it, but not before 2026-03-05 08:20 (roll A001 is "
        "kept on it until then)."
    )


def test_a_visiting_card_that_is_with_its_owner_again_is_wanted_no_more() -> None:
    told = story("S-014", visiting=True).shot("V001").backed_up()
    assert needed(told).what.startswith("Give it back")
    told.handed_over("other", to="drone crew", outside=True)
    assert (
        needed(told).what == "Nothing: it is with drone crew (other, outside the production) again."
    )
    assert (needed(told).who, needed(told).rank) == ("nobody", 12)
    told.handed_over("cart")
    assert needed(told).what.startswith("Give it back")
    told.handed_over("rental house", to="Quay Rentals").loaded("A", "A001").pulled(gb=1).backed_up()
    assert needed(told).what.startswith("Give it back")


@pytest.mark.parametrize("wanting", ["off site", "receipt", "bad"])
def test_a_card_that_nobody_has_to_bring_is_with_the_data_manager(wanting: str) -> None:
    rule = BackupRule(
        copies=2, level="checksummed", off_site=wanting == "off site", receipt=wanting == "receipt"
    )
    told = story("S-014", rule=rule).shot("A001").backed_up()
    if wanting == "bad":
        told.received("A001", "bad")
    found = needed(told)
    assert (told.status, found.who, found.may_format) == ("exposed", "data manager", False)
    assert large(told.status, found.who) == "copied, rule not met"


def test_a_card_with_too_few_copies_is_brought_by_the_loader() -> None:
    told = needed(story("S-014").shot("A001").checked("RAID").received("A001", "bad"))
    assert (told.who, large(told.card.status, told.who)) == ("loader", "shot, not copied")


def test_a_wiped_card_gives_no_leave_until_a_person_settles_what_was_lost() -> None:
    told = story("S-014").shot("A001").formatted("camera", "A")
    assert told.status == "ready"
    (one,) = needs(told.production.views(), told.production.context)
    assert (one.rank, one.may_format) == (1, False)
    assert one.what.startswith("Formatted while a roll on it was not backed up")
    assert "Stop: do not load, format, repair or write to this card." in one.what


def late() -> Story:
    """Takes may have been shot before camera A formatted the card; what came after is backed up."""
    told = story("S-014").loaded("A", "A001", at="09:00").formatted("camera", "A", at="10:00")
    return told.pulled(gb=480).checked("RAID").checked("SHUTTLE")


def test_a_late_format_stops_whatever_copies_there_are_until_a_person_settles_it() -> None:
    told = late()
    assert told.status == "backed up"
    assert (needed(told).rank, needed(told).may_format) == (1, False)
    assert needed(told).what.startswith("Formatted more than 15 minutes after it was loaded")
    told.cleared()
    assert (told.status, needed(told).may_format) == ("cleared", False)
    assert "Ask the camera crew what was shot before the format." in needed(told).what
    told.settled("formatted 1", "formatted_late")
    assert (told.status, needed(told).may_format) == ("cleared", True)


def test_a_late_format_is_first_among_the_dangers_while_it_is_shot_and_when_it_is_copied() -> None:
    told = story("S-014").loaded("A", "A001", at="09:00").formatted("camera", "A", at="10:00")
    for moment_of_it in (told, late()):
        (one,) = told_of(moment_of_it)
        assert (one.roll, one.rank, one.mended) == ("A001", 0, False)
        assert one.to_do.startswith("Ask the camera crew what was shot before the format.")


@pytest.mark.parametrize("of", ["loaded over", "post", "differs"])
def test_what_was_wrong_with_a_roll_that_is_backed_up_by_now_only_waits(of: str) -> None:
    told = story("S-014").shot("A001")
    if of == "loaded over":
        told.loaded("B", "B001").pulled(gb=10).backed_up()
    if of == "post":
        told.backed_up().received("A001", "bad").received("A001", "good")
    if of == "differs":
        told.failed("VAULT", "differs", roll="A001").backed_up()
    (one,) = told_of(told)
    assert (one.roll, one.rank, one.mended) == ("A001", 2, True)
    assert "Do not format" not in one.to_do and "Keep the card" not in one.to_do
    assert "ettle this with a reason." in one.to_do


def test_what_is_wrong_with_a_roll_that_is_not_backed_up_keeps_its_words() -> None:
    told = story("S-014").shot("A001").loaded("B", "B001").pulled(gb=10).backed_up("B001")
    (one,) = told_of(told)
    assert (one.rank, one.mended) == (1, False)
    assert one.to_do.startswith("Do not format.")


@pytest.mark.parametrize("late", [True, False])
def test_a_card_that_may_have_lost_takes_stops_while_it_is_in_the_camera(late: bool) -> None:
    told = story("S-014")
    if late:
        told.loaded("A", "A001", at="09:00").formatted("camera", "A", at="10:00")
    else:
        told.shot("A001").loaded("A", "A002", formatted=True)
    found = needed(told)
    assert (told.status, found.rank, found.who, found.may_format) == (
        "loaded", 1, "camera crew", False,
    )  # fmt: skip
    assert found.what.startswith("In camera A. Formatted")
    assert "top" in found.what and "Unmount" not in found.what


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
