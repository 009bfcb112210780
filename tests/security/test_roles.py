"""Who may do what, cell by cell, against a table that was written apart from the program's."""

from __future__ import annotations

import inspect
import pkgutil
from importlib import import_module

import pytest

from tracker import services
from tracker.domain.facts import FACTS
from tracker.services.roles import OF_EVENT, ROLES, TABLE, may, may_log

# Columns: data manager, loader, production office, administrator.
EXPECTED = """
look                    yes yes yes yes
export                  yes no  yes yes
audit                   yes no  no  yes
history                 no  no  no  yes
invite                  no  no  no  yes
revoke                  no  no  no  yes
token                   yes no  no  yes
erase                   no  no  no  yes
mine                    yes yes yes yes
office                  yes no  yes yes
purchase                yes no  yes yes
tape_rule               yes no  no  yes
outbox                  yes no  yes yes
take                    yes yes yes yes
snooze                  yes no  no  yes
set_settings            yes no  no  yes
offer_shift             yes no  no  yes
name_rolls              yes yes no  yes
my_last                 yes yes yes yes
take_back_last          yes yes yes yes
take_back               yes no  no  yes
load                    yes yes no  yes
swap                    yes yes no  yes
format_in_camera        yes yes no  yes
pull                    yes yes no  yes
rename_roll             yes yes no  yes
confirm_name            yes yes no  yes
register_card           yes no  yes yes
take_in_visiting        yes yes no  yes
relabel                 yes no  no  yes
check_in                yes yes no  yes
hand_over               yes yes no  yes
set_aside               yes yes no  yes
return_to_service       yes no  no  yes
note_damage             yes yes no  yes
settle_damage           yes no  no  yes
retire                  yes no  no  yes
report_missing          yes yes no  yes
found                   yes yes no  yes
settle                  yes no  no  yes
note                    yes yes yes yes
clear                   yes no  no  yes
clear_against_the_rule  yes no  no  yes
withdraw_clearing       yes no  no  yes
declare_empty           yes no  no  yes
write_off               yes no  no  yes
received                yes no  yes yes
offloaded               yes yes no  yes
copy_started            yes no  no  yes
copy_finished           yes no  no  yes
copy_checked            yes no  no  yes
copy_failed             yes no  no  yes
copy_lost               yes no  no  yes
call_unit               yes no  no  yes
wrap_unit               yes no  no  yes
count                   yes no  no  yes
commit_plan             yes no  no  yes
set_rule                yes no  no  yes
set_camera              yes no  no  yes
register_drive          yes no  yes yes
move_drive              yes no  no  yes
empty_drive             yes no  no  yes
fail_drive              yes no  no  yes
lose_drive              yes no  no  yes
find_drive              yes no  no  yes
give_back_drive         yes no  no  yes
set_todays_drives       yes no  no  yes
"""
COLUMNS = ("data manager", "loader", "production office", "administrator")
CELLS = [
    (role, action, said == "yes")
    for action, *row in map(str.split, EXPECTED.strip().splitlines())
    for role, said in zip(COLUMNS, row, strict=True)
]


def acts() -> set[str]:
    """Every public function of `acts_*` that takes who says it."""
    names = [module.name for module in pkgutil.iter_modules(services.__path__)]
    modules = [import_module(f"tracker.services.{n}") for n in names if n.startswith("acts_")]
    return {
        name
        for module in modules
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and not name.startswith("_")
        if "who" in inspect.signature(function).parameters
    }


@pytest.mark.parametrize(("role", "action", "expected"), CELLS)
def test_each_cell(role: str, action: str, expected: bool) -> None:
    assert may(role, action) is expected


def test_the_two_tables_have_the_same_rows_and_columns() -> None:
    assert {action for _, action, _ in CELLS} == set(TABLE)
    assert len(CELLS) == len(TABLE) * len(ROLES)
    assert ROLES == COLUMNS


def test_every_act_has_its_row() -> None:
    found = acts()
    assert {"load", "clear", "set_rule", "take_back"} <= found
    assert found - set(TABLE) == set()


def test_no_row_is_about_an_act_that_is_gone() -> None:
    apart = {"look", "export", "audit", "history", "invite", "revoke", "token"}
    apart |= {"erase", "mine", "tape_rule", "office", "purchase"}
    # What is said to the reminders, and of rolls that a page has named.
    apart |= {"outbox", "take", "snooze", "set_settings", "offer_shift", "name_rolls"}
    assert set(TABLE) - apart == acts()


@pytest.mark.parametrize("action", ["", "Look", "format", "_log", "take_back "])
def test_an_action_that_is_not_known_is_an_error(action: str) -> None:
    with pytest.raises(LookupError, match="no action"):
        may("administrator", action)


@pytest.mark.parametrize("role", ["", "Loader", "producer", "admin"])
def test_a_role_that_is_not_known_is_an_error(role: str) -> None:
    with pytest.raises(LookupError, match="no role"):
        may(role, "look")


def test_every_event_is_an_action_of_the_table() -> None:
    assert set(OF_EVENT) == {fact.event for fact in FACTS}
    assert set(OF_EVENT.values()) <= set(TABLE)


@pytest.mark.parametrize(
    ("role", "event", "expected"),
    [
        ("loader", "pulled", True),
        ("loader", "cleared", False),
        ("loader", "voided", False),
        ("production office", "loaded", False),
        ("production office", "noted", True),
        ("data manager", "cleared", True),
        ("loader", "sung", True),
    ],
)
def test_a_fact_by_itself_is_logged_by_those_who_may(role: str, event: str, expected: bool) -> None:
    assert may_log(role, event) is expected
