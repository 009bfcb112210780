"""The calendar feed, as an independent reader of iCalendar understands it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from tracker.reminders.feed import Happening, calendar

SIX = datetime(2026, 5, 22, 18, 0, tzinfo=UTC)
COPY = Happening(
    id="roll/0191f0c8/A001",
    at=SIX,
    changed=SIX - timedelta(hours=2),
    title="Copy S-014; it holds A001, B002",
    body="S-014 is exposed.\nCopy it to RAID\\SHUTTLE: é, möwe.",
    url="http://cart.example/c/7K3Q?a=1,2;b",
    danger=True,
)

# What a calendar can hold: no controls but line breaks, and no halves of letters.
texts = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]) | st.just("\n"))
seconds = st.integers(0, 7 * 10**9)
"""Seconds since 1970, far into the next century."""


def read(feed: bytes) -> list[dict[str, Any]]:
    """The events, by an independent reader."""
    found = Calendar.from_ical(feed)
    assert found.errors == []
    events = found.walk("VEVENT")
    assert all(event.errors == [] for event in events)
    return [{key: plain(event[key]) for key in event} for event in events]


def plain(value: Any) -> Any:
    return getattr(value, "dt", value)


def test_what_is_due_stands_at_its_time_with_what_to_do() -> None:
    [event] = read(calendar("Pier", [COPY]))
    assert event == {
        "UID": COPY.id,
        "DTSTAMP": COPY.changed,
        "DTSTART": SIX,
        "DTEND": SIX + timedelta(minutes=15),
        "SUMMARY": COPY.title,
        "DESCRIPTION": COPY.body,
        "URL": COPY.url,
        "PRIORITY": 1,
        "TRANSP": "TRANSPARENT",
    }


def test_a_calendar_has_its_name_and_says_how_often_to_ask() -> None:
    feed = calendar("The Long Pier, unit 2", [])
    found = Calendar.from_ical(feed)
    assert found["VERSION"] == "2.0"
    # This reader leaves their value as it stands, though RFC 7986 makes it a text.
    assert str(found["X-WR-CALNAME"]) == str(found["NAME"]) == r"The Long Pier\, unit 2"
    assert plain(found["REFRESH-INTERVAL"]) == timedelta(minutes=15)
    assert found["PRODID"]


def test_times_of_any_zone_are_told_in_utc() -> None:
    east = SIX.astimezone(timezone(timedelta(hours=5, minutes=45)))
    assert calendar("Pier", [replace(COPY, at=east)]) == calendar("Pier", [COPY])
    assert b"DTSTART:20260522T180000Z\r\n" in calendar("Pier", [COPY])


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="without a zone"):
        calendar("Pier", [replace(COPY, at=datetime(2026, 5, 22, 18, 0))])  # noqa: DTZ001


def test_the_order_in_which_they_come_does_not_matter() -> None:
    later = replace(COPY, id="later", at=SIX + timedelta(hours=1))
    assert calendar("Pier", [later, COPY]) == calendar("Pier", [COPY, later])
    assert [event["UID"] for event in read(calendar("Pier", [later, COPY]))] == [COPY.id, "later"]


def test_controls_are_left_out_and_no_address_breaks_its_line() -> None:
    bad = replace(COPY, title="a\x00b\r\nDTSTART:x", url="http://a.example/\r\nATTENDEE:b")
    [event] = read(calendar("Pier", [bad]))
    assert (event["SUMMARY"], event["URL"]) == ("ab DTSTART:x", "http://a.example/")
    assert "ATTENDEE" not in event


@given(title=texts, body=texts, at_s=seconds)
def test_any_text_comes_out_as_it_went_in(title: str, body: str, at_s: int) -> None:
    at = datetime.fromtimestamp(at_s, UTC)
    [event] = read(calendar("Pier", [Happening("1", at, at, title, body)]))
    assert event["SUMMARY"] == " ".join(title.split())
    assert event.get("DESCRIPTION", "") == body
    assert event["DTSTART"] == at


@given(title=st.text(st.characters(codec="utf-8"), min_size=80, max_size=400), body=texts)
def test_no_line_is_longer_than_it_may_be_nor_cut_within_a_letter(title: str, body: str) -> None:
    feed = calendar("Pier", [Happening("1", SIX, SIX, title, body)])
    assert feed.endswith(b"\r\n")
    for line in feed.split(b"\r\n"):
        assert len(line) <= 75
        line.decode()
