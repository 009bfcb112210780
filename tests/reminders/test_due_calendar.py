"""What stands in somebody's calendar: what is due, and what will be, of their own."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from icalendar import Calendar

from tests.reminders.post import Post
from tracker.services.due_calendar import due_calendar

PAGE = "http://cart.example:8642/"


def of(told: Post, name: str) -> list[Any]:
    """The events in somebody's calendar."""
    found = Calendar.from_ical(due_calendar(told.service, told.person(name), PAGE))
    assert str(found["NAME"]) == "Harbour: what is due"
    return list(found.walk("VEVENT"))


def about(told: Post, name: str, rule: str) -> list[datetime]:
    """When something of a rule stands in somebody's calendar."""
    return [one["DTSTART"].dt for one in of(told, name) if rule in one["UID"]]


def test_what_will_be_due_stands_at_its_time_for_whoever_is_told(told: Post) -> None:
    out = told.shot()
    assert about(told, "Lee", "exposed-too-long") == [out + timedelta(hours=2)]
    assert about(told, "Noor", "exposed-too-long") == []
    [event] = [one for one in of(told, "Lee") if "exposed-too-long" in one["UID"]]
    assert "S-014" in event["SUMMARY"]
    assert event["DESCRIPTION"]
    assert event["URL"] == PAGE


def test_what_is_due_stands_at_its_next_notice_and_goes_when_it_is_settled(told: Post) -> None:
    out = told.shot()
    told.minute(121)
    assert about(told, "Lee", "exposed-too-long") == [out + timedelta(hours=4)]
    told.copied()
    assert about(told, "Lee", "exposed-too-long") == []


def test_danger_is_marked(told: Post) -> None:
    told.shot()
    told.missing()
    told.minute()
    events = [one for one in of(told, "Kim") if "missing-with-footage" in one["UID"]]
    assert [int(one["PRIORITY"]) for one in events] == [1]


def test_nothing_changes_between_two_looks(told: Post) -> None:
    told.shot()
    lee = told.person("Lee")
    assert due_calendar(told.service, lee) == due_calendar(told.service, lee)
