"""What people are reminded of: when, who, and what the sentence tells them to do."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.reminders.told import (
    about,
    at,
    called,
    chosen,
    day,
    reminded,
    seen,
    spoken_of,
    wrapped,
)
from tests.stories import KIM, TWO_COPIES, Story, story
from tracker.domain import facts as f
from tracker.domain.rule import BackupRule
from tracker.reminders.limits import Chosen, Own
from tracker.reminders.rules import BY_NAME, RULES, everything_due

OFF_SITE_TOO = BackupRule(copies=2, level="checksummed", off_site=1)
EXPOSED = "exposed too long"
FALLEN = "cleared and not covered any more"


def shot(told: Story | None = None, label: str = "S-014", roll: str = "A001") -> Story:
    """A card that came out of camera A at 10:00, after a call at 08:00."""
    told = told or day()
    told.card(label).loaded("A", roll, "09:00", formatted=True)
    return told.pulled(gb=480, at="10:00")


# Exposed too long


def test_a_card_that_was_shot_and_is_not_copied_in_two_hours_is_told_of() -> None:
    told = shot()
    assert reminded(told, EXPOSED, at("11:59")) == []
    found = reminded(told, EXPOSED, at("12:00"))
    assert [(one.about, one.due, one.who) for one in found] == [("S-014", at("12:00"), ("loader",))]
    assert found[0].says == (
        "S-014 was shot (A001), came out at 10:00 and is not backed up; nobody logged where it "
        "went."
    )
    assert found[0].to_do == (
        "Bring it to the cart. Do not format. At the cart: make 2 copies, checksummed, each on "
        "its own drive."
    )


def test_once_it_is_at_the_cart_it_is_the_data_manager_who_is_told() -> None:
    found = reminded(shot().handed_over("cart", KIM, "10:05"), EXPOSED, at("12:00"))
    assert found[0].who == ("data manager",)
    assert found[0].to_do.startswith("Do not format. At the cart: make 2 copies")
    assert "with Kim, cart" in found[0].says


def test_a_card_that_is_being_copied_or_was_copied_is_no_longer_exposed() -> None:
    assert reminded(shot().started("RAID", "10:30"), EXPOSED, at("13:00")) == []
    assert reminded(shot().backed_up(), EXPOSED, at("13:00")) == []


def test_what_is_only_to_go_off_site_is_not_the_loaders_to_bring() -> None:
    told = shot(day(rule=OFF_SITE_TOO)).backed_up()
    assert told.status == "exposed"
    assert reminded(told, EXPOSED, at("14:00")) == []


def test_a_night_does_not_count() -> None:
    """Pulled at 17:30, wrapped at 18:00; the cart works on until 21:00."""
    told = shot()
    told.card("S-015").loaded("B", "B001", "16:00", formatted=True).pulled(gb=400, at="17:30")
    wrapped(told, "18:00")
    told.card("S-014").backed_up()
    assert about(reminded(told, EXPOSED, at("19:30"))) == ["S-015"]
    waits = reminded(told, EXPOSED, at("23:00"))
    assert [one.may_go for one in waits] == [False]


def test_nobody_is_nagged_about_cards_that_are_to_be_copied_at_wrap() -> None:
    told = shot()
    habit = chosen("main", habit="lunch and wrap")
    assert reminded(told, EXPOSED, at("15:59"), habit) == []
    assert about(reminded(told, EXPOSED, at("16:00"), habit)) == ["S-014"]
    late = day().card("S-014").loaded("A", "A001", "14:30", formatted=True).pulled(at="15:30")
    wrapped(late, "18:00")
    assert reminded(late, EXPOSED, at("19:59"), habit) == []
    assert about(reminded(late, EXPOSED, at("20:00"), habit)) == ["S-014"]


def test_nor_about_cards_that_are_copied_in_the_night() -> None:
    told = wrapped(shot(), "18:00")
    habit = chosen("main", habit="night")
    assert reminded(told, EXPOSED, at("02:59", day=2), habit) == []
    at_three = reminded(told, EXPOSED, at("03:00", day=2), habit)
    assert [one.may_go for one in at_three] == [False], "it waits for the call"
    called(told.day(2), "08:00")
    at_call = reminded(told, EXPOSED, at("08:00", day=2), habit)
    assert [one.may_go for one in at_call] == [True]


def test_a_unit_may_set_it_otherwise() -> None:
    hour = {EXPOSED: Own(after=timedelta(hours=1))}
    assert reminded(shot(), EXPOSED, at("11:00"), chosen("main", rules=hour))
    assert not reminded(shot(), EXPOSED, at("11:00"), chosen("second", rules=hour))
    assert not reminded(shot(), EXPOSED, at("14:00"), chosen(rules={EXPOSED: Own(on=False)}))


def test_a_card_exposed_again_by_a_lost_drive_counts_from_there() -> None:
    told = shot().backed_up()
    told.tell(f.DriveLost, "14:00", drive="RAID")
    assert reminded(told, EXPOSED, at("15:59")) == []
    assert reminded(told, EXPOSED, at("16:00"))[0].since == at("14:00")


def test_a_cleared_card_that_is_not_covered_any_more_is_danger_at_once() -> None:
    """Nobody can see it on the card: its tape still says that it may be formatted."""
    told = wrapped(shot().backed_up().cleared("11:00"), "18:00")
    told.tell(f.DriveLost, "23:00", drive="RAID")
    found = reminded(told, FALLEN, at("23:00"))
    assert [(one.severity, one.may_go, one.who) for one in found] == [
        ("danger", True, ("data manager", "loader"))
    ]
    assert found[0].says.startswith(
        "S-014 (A001) was cleared, and has not been backed up any more since 23:00"
    )
    assert found[0].to_do.startswith("Do not format it.")
    told.tell(f.DriveFound, "23:10", drive="RAID")
    assert reminded(told, FALLEN, at("23:10")) == []


def test_another_filling_of_the_card_is_another_thing() -> None:
    first = reminded(shot(), EXPOSED, at("12:00"))[0].subject
    again = shot().loaded("A", "A001", "12:10").pulled(gb=700, at="13:00")
    second = reminded(again, EXPOSED, at("15:00"))[0].subject
    assert first != second


# Copied and not checked


def test_copies_that_nobody_checks_are_told_of_with_their_drives() -> None:
    told = shot().finished("RAID", at="10:30").finished("SHUTTLE", at="11:00").checked("RAID")
    assert reminded(told, "copied and not checked", at("12:59")) == []
    found = reminded(told, "copied and not checked", at("13:00"))[0]
    assert found.who == ("data manager",)
    assert found.to_do == "Check them, checksummed: SHUTTLE. Do not format until then."


# A roll below the rule


def test_a_roll_that_its_card_no_longer_has_is_danger_at_any_hour() -> None:
    told = shot().backed_up().cleared("11:30").loaded("A", "A002", "12:00", formatted=True)
    wrapped(told.pulled(at="17:50"), "18:00").tell(f.DriveLost, "23:00", drive="RAID")
    found = reminded(told, "a roll below the rule", at("23:00"))[0]
    assert (found.about, found.severity, found.may_go) == ("A001", "danger", True)
    assert found.says == (
        "Roll A001 has been below the backup rule since 23:00: copies on SHUTTLE; S-014 no "
        "longer has it."
    )
    assert found.to_do.startswith("Make another copy of it from a good one now.")


def test_formatted_with_the_only_copy_on_it_the_card_is_not_written_to() -> None:
    told = shot().loaded("B", "B001", "11:00", formatted=True)
    found = reminded(told, "a roll below the rule", at("11:00"))
    assert [(one.about, one.since) for one in found] == [("A001", at("11:00"))]
    assert found[0].to_do.startswith("Nobody loads, formats or writes to S-014")


def test_a_loss_that_somebody_settled_is_not_told_of_any_more() -> None:
    told = shot().loaded("B", "B001", "11:00", formatted=True).pulled(gb=1)
    assert about(reminded(told, "a roll below the rule", at("12:00"))) == ["A001"]
    told.settled("loaded 2", "formatted_uncovered")
    assert reminded(told, "a roll below the rule", at("12:00")) == []


def test_a_card_set_aside_with_the_only_copy_is_danger() -> None:
    found = reminded(shot().set_aside(), "a roll below the rule", at("12:00"))[0]
    assert found.to_do == "Do not format S-014, and back it up as soon as it can be had."


def test_a_card_set_aside_in_the_camera_is_danger_too() -> None:
    told = day().card("S-014").loaded("A", "A001", "09:00").set_aside()
    found = reminded(told, "a roll below the rule", at("12:00"))
    assert [(one.about, one.due) for one in found] == [("A001", at("09:00"))]


def test_while_a_promise_runs_its_roll_is_not_told_of() -> None:
    """Cleared against the rule at 10:10, promised until 22:00, formatted since."""
    told = shot().overridden().loaded("A", "A002", "11:00", formatted=True)
    assert reminded(told, "a roll below the rule", at("21:59")) == []
    assert about(reminded(told, "a roll below the rule", at("22:00"))) == ["A001"]


# Probably out, or missing


def test_a_card_that_is_probably_out_is_told_of_half_an_hour_after_the_next_went_in() -> None:
    told = day().card("S-014").loaded("A", "A001", "09:00")
    told.card("S-015").loaded("A", "A002", "10:00")
    assert reminded(told, "probably out", at("10:29")) == []
    found = reminded(told, "probably out", at("10:30"))
    assert [(one.about, one.who) for one in found] == [("S-014", ("loader",))]
    assert "log the pull" in found[0].to_do


def test_a_camera_of_two_slots_is_full_with_the_third_card() -> None:
    told = day().tell(f.CameraSet, letters="A", unit="main", slots=2)
    told.card("S-014").loaded("A", "A001", "09:00")
    told.card("S-015").loaded("A", "A002", "10:00")
    assert reminded(told, "probably out", at("12:00")) == []
    told.card("S-016").loaded("A", "A003", "13:00")
    assert [one.since for one in reminded(told, "probably out", at("14:00"))] == [at("13:00")]


def test_a_missing_card_with_footage_is_danger_for_everyone() -> None:
    found = reminded(shot().reported_missing(), "missing with footage", at("10:10"))[0]
    assert (found.severity, len(found.who), found.may_go) == ("danger", 3, True)
    assert "with A001, which is not backed up" in found.says


def test_a_report_that_was_taken_back_does_not_count() -> None:
    told = shot().reported_missing().reported_missing().voids("reported_missing 2")
    assert reminded(told, "missing with footage", at("11:00"))[0].since == at("10:10")


def test_a_missing_card_with_nothing_on_it_waits_for_the_morning() -> None:
    told = day().card("S-014").checked_in("empty").reported_missing()
    assert [one.severity for one in reminded(told, "missing", at("12:00"))] == ["note"]
    assert reminded(told, "missing with footage", at("12:00")) == []


# At wrap


def the_day() -> Story:
    """S-014 is backed up, S-015 at the cart, S-016 still in camera A; wrapped at 18:00."""
    told = shot().backed_up()
    told.card("S-015").loaded("B", "B001", "15:00", formatted=True).pulled(gb=300, at="17:00")
    told.handed_over("cart", KIM, "17:05")
    told.card("S-016").loaded("A", "A002", "17:10", formatted=True)
    return wrapped(told, "18:00")


def test_at_wrap_what_is_owed_is_one_list_with_owners() -> None:
    assert reminded(the_day(), "at wrap", at("17:59")) == []
    found = reminded(the_day(), "at wrap", at("18:00"))
    assert [one.about for one in found] == ["main unit, 2026-03-02"]
    assert found[0].lines == (
        "S-015 (B001): exposed, with Kim, cart; data manager",
        "S-016 (A002): still in camera A; camera crew",
    )
    assert found[0].who == ("data manager", "loader")
    assert found[0].repeat is None


def test_when_all_is_at_the_cart_the_loader_is_left_alone() -> None:
    told = the_day().card("S-016").pulled(gb=10, at="18:10").handed_over("cart", KIM)
    assert reminded(told, "at wrap", at("18:30"))[0].who == ("data manager",)


def test_with_nothing_owed_there_is_no_list_and_the_next_call_ends_it() -> None:
    assert reminded(wrapped(shot().backed_up(), "18:00"), "at wrap", at("18:30")) == []
    told = called(the_day().day(2), "08:00")
    assert reminded(told, "at wrap", at("08:00", day=2)) == []


def test_a_day_that_nobody_wrapped_has_its_list_when_it_cannot_go_on() -> None:
    """Called at 8; a day is at most 16 hours long."""
    assert reminded(shot(), "at wrap", at("23:59")) == []
    found = reminded(shot(), "at wrap", at("00:00", day=2))
    assert [one.says for one in found] == [
        "Nobody logged when the main unit wrapped; 1 card is neither backed up nor formatted."
    ]


def test_a_card_loaded_for_tomorrow_is_not_on_the_list() -> None:
    told = wrapped(day().card("S-014").checked_in("empty"), "18:00")
    told.card("S-014").loaded("A", "A002", "18:30", formatted=True)
    assert reminded(told, "at wrap", at("19:00")) == []


# Off-site copy late


def test_a_roll_with_no_copy_off_site_for_a_day_stands_on_the_list_of_the_morning() -> None:
    told = shot().backed_up()
    rule = "off-site copy late"
    assert reminded(told, rule, at("09:59", day=2)) == []
    found = reminded(told, rule, at("10:00", day=2))
    assert [(one.severity, one.who) for one in found] == [
        ("note", ("data manager", "production office"))
    ]
    assert found[0].says == "1 roll has too few copies off site, A001 since 2026-03-02 10:00."
    assert "Copies are on RAID, SHUTTLE." in found[0].to_do


def test_where_the_backup_rule_asks_for_it_it_is_a_warning() -> None:
    told = shot(day(rule=OFF_SITE_TOO)).backed_up()
    found = reminded(told, "off-site copy late", at("10:00", day=2))
    assert [one.severity for one in found] == ["warning"]


def test_a_copy_off_site_ends_it_and_bringing_it_back_begins_it_anew() -> None:
    told = shot().backed_up().drive_moved("SHUTTLE", "off site").day(3)
    rule = "off-site copy late"
    assert spoken_of(told, rule, at("10:00", day=3)) == []
    told.drive_moved("SHUTTLE", "near set")
    assert [one.since for one in spoken_of(told, rule, at("10:00", day=3))] == [at("08:00", day=3)]


def test_a_production_that_wants_no_copy_off_site_hears_nothing() -> None:
    none = chosen(off_site_copies=0)
    assert spoken_of(shot().backed_up(), "off-site copy late", at("10:00", day=9), none) == []


# Offered


def test_what_is_offered_is_off_until_somebody_wants_it() -> None:
    told = shot().backed_up()
    rule = "backed up and not cleared"
    assert reminded(told, rule, at("14:00"), Chosen()) == []
    assert about(reminded(told, rule, at("14:00"))) == ["S-014"]
    assert [one.name for one in RULES if one.on] == [
        EXPOSED,
        FALLEN,
        "copied and not checked",
        "a roll below the rule",
        "probably out",
        "missing with footage",
        "missing",
        "at wrap",
        "off-site copy late",
    ]


def test_a_card_that_is_kept_for_days_is_not_to_be_cleared_yet() -> None:
    told = shot(day(rule=BackupRule(2, hold_days=2))).backed_up()
    rule = "backed up and not cleared"
    assert reminded(told, rule, at("14:00", day=2)) == []
    assert about(reminded(told, rule, at("14:00", day=3))) == ["S-014"]


def test_a_visiting_card_goes_back() -> None:
    told = day().card("S-014", visiting=True).checked_in("footage", "09:00").backed_up()
    found = reminded(told, "backed up and not cleared", at("14:00"))
    assert [one.to_do for one in found] == ["Give it back."]


def test_a_visiting_card_that_went_back_is_not_asked_for() -> None:
    told = day().card("S-014", visiting=True).checked_in("footage", "09:00").backed_up()
    told.handed_over("other", to="drone crew", outside=True)
    assert reminded(told, "backed up and not cleared", at("14:00")) == []


def test_nobody_is_asked_to_clear_or_format_a_card_that_was_formatted_late() -> None:
    told = day().card("S-014").loaded("A", "A001", "09:00").formatted("camera", "A", "10:00")
    told.pulled(gb=480).backed_up()
    assert reminded(told, "backed up and not cleared", at("16:00")) == []
    told.cleared()
    assert reminded(told, "cleared and not formatted", at("23:00")) == []


def test_a_cleared_card_is_the_safest_and_is_never_more_than_a_note() -> None:
    told = shot().backed_up().cleared("11:00")
    rule = "cleared and not formatted"
    assert reminded(told, rule, at("18:59")) == []
    found = reminded(told, rule, at("19:00"))
    assert [(one.about, one.severity, one.who) for one in found] == [("S-014", "note", ("loader",))]


@pytest.mark.parametrize(("gb", "by"), [(480, "12:40:00"), (10, "10:30:00"), (None, "15:33:20")])
def test_a_copy_is_too_long_under_way_after_twice_its_time(gb: float | None, by: str) -> None:
    """At 100 MB/s 480 GB take 80 min; a quarter of an hour any; unknown is as a full card."""
    told = day().card("S-014").loaded("A", "A001", "09:00", formatted=True)
    told.pulled(gb=gb, at="10:00").tell(f.CopyStarted, moves=False, drive="RAID")
    found = spoken_of(told, "copy under way too long", at("18:00"))
    assert [one.due for one in found] == [at(by)]
    told.finished("RAID")
    assert spoken_of(told, "copy under way too long", at("18:00")) == []


def test_a_promise_is_reminded_of_before_it_ends_with_who_gave_it() -> None:
    """Cleared against the rule at 10:10; a second copy is promised until 22:00."""
    told = shot().overridden()
    rule = "an override's promise"
    assert reminded(told, rule, at("19:59")) == []
    found = reminded(told, rule, at("20:00"))[0]
    assert (found.person, found.severity) == (KIM, "danger")
    assert "Kim promised until 22:00: a second copy." in found.says
    assert reminded(told.backed_up(), rule, at("21:00")) == []


def test_a_promise_outlives_the_format_until_it_is_kept() -> None:
    told = shot().overridden().loaded("B", "B001", "11:00", formatted=True)
    assert about(reminded(told, "an override's promise", at("20:00"))) == ["S-014"]


def test_danger_that_nobody_looked_at_is_told_of_until_it_is_settled() -> None:
    told = shot().finished("RAID", at="10:30").failed("RAID", "differs", "11:00")
    rule = "danger not looked at"
    assert reminded(told, rule, at("11:29")) == []
    found = reminded(told, rule, at("11:30"))[0]
    assert found.says == (
        "S-014, roll A001: a copy differs from the roll. Nobody has settled it since 11:00."
    )
    told.settled("copy_failed 1", "copy_differs")
    assert reminded(told, rule, at("12:00")) == []


def test_danger_of_a_roll_below_the_rule_is_told_of_once_and_not_by_two_rules() -> None:
    told = shot().loaded("B", "B001", "11:00", formatted=True)
    assert [one.rule for one in everything_due(seen(told, at("12:00")), at("12:00"))] == [
        "a roll below the rule"
    ]


@pytest.mark.parametrize(("severity", "found"), [(1, []), (2, ["S-014"]), (4, ["S-014"])])
def test_damage_is_to_be_settled_within_a_day(severity: int, found: list[str]) -> None:
    told = day().card("S-014").checked_in("empty").damaged(severity)
    rule = "damage not settled"
    assert reminded(told, rule, at("08:00", day=2)) == []
    assert about(reminded(told, rule, at("12:00", day=2))) == found
    told.damage_settled("damage_noted 1")
    assert reminded(told, rule, at("12:00", day=2)) == []


def test_a_drive_at_hand_that_is_nearly_full_is_told_of_from_when_it_was() -> None:
    """A drive of 1 TB: 480 GB at 11:00, 900 GB at 13:00."""
    told = day()
    told.tell(
        f.DriveRegistered,
        moves=False,
        drive="POCKET",
        kind="ssd",
        place="on set",
        capacity_bytes=10**12,
    )
    shot(told).finished("POCKET", gb=480, at="11:00")
    assert spoken_of(told, "drive nearly full", at("12:00")) == []
    told.card("S-015").loaded("B", "B001", "11:30", formatted=True).pulled(gb=420, at="12:30")
    told.finished("POCKET", gb=420, at="13:00")
    found = reminded(told, "drive nearly full", at("14:00"))
    assert [(one.since, one.says) for one in found] == [
        (at("13:00"), "POCKET is 90 % full; 100 GB are left.")
    ]
    told.drive_emptied("POCKET")
    assert spoken_of(told, "drive nearly full", at("14:00")) == []


# All rules


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_has_a_name_of_its_own_and_somebody_to_tell(rule: object) -> None:
    assert BY_NAME[rule.name] is rule  # type: ignore[attr-defined]
    assert rule.who  # type: ignore[attr-defined]
    assert (rule.severity == "note") <= (rule.repeat is None)  # type: ignore[attr-defined]


def test_a_quiet_production_is_reminded_of_nothing() -> None:
    told = day().card("S-014").checked_in("empty")
    for clock in ("08:00", "12:00", "23:00"):
        assert everything_due(seen(told, at(clock)), at(clock)) == []


def test_times_are_told_in_the_productions_zone() -> None:
    helsinki = ZoneInfo("Europe/Helsinki")
    told = shot(day(zone=helsinki))
    found = reminded(told, EXPOSED, at("12:00", zone=helsinki))
    assert "came out at 10:00" in found[0].says


def test_a_production_without_calls_or_cameras_goes_by_the_clock() -> None:
    told = story("S-014", rule=TWO_COPIES).shot("A001")
    assert reminded(told, EXPOSED, at("10:09")) == []
    assert about(reminded(told, EXPOSED, at("10:20"))) == ["S-014"]


def test_it_is_a_calculation_the_same_twice_and_nothing_is_changed() -> None:
    told, now = the_day(), at("20:00")
    state = seen(told, now)
    first = everything_due(state, now)
    assert everything_due(state, now) == first
