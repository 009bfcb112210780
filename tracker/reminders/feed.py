"""What is due when, as a calendar that phones and desks can subscribe to (iCalendar, RFC 5545).

Pure: happenings go in, bytes come out, the same for the same. All times are UTC.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

LINE_OCTETS = 75
"""Longer lines are folded. Source: RFC 5545, section 3.1."""
REFRESH = "PT15M"
"""How often a calendar may ask again. The property: RFC 7986, section 5.7; the time: ours."""
LENGTH = timedelta(minutes=15)
"""How long a happening is drawn, so that it can be seen; common practice, no source."""
MARKS = re.compile(r"[\\;,]")
NO_TEXT = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
"""What may stand in no text. Source: RFC 5545, section 3.1, CONTROL."""


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that is due. id: the same for as long as it is the same thing.

    at: when it is due, and changed: when that was last set, both aware. url: of our page.
    """

    id: str
    at: datetime
    changed: datetime
    title: str
    body: str = ""
    url: str | None = None
    danger: bool = False


def calendar(name: str, happenings: Iterable[Happening]) -> bytes:
    """A calendar of happenings, the earliest first. Errors: ValueError if a time has no zone."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Cardwright//What is due//EN",
        f"NAME:{_text(name)}",
        # Older programs know the name by this alone.
        f"X-WR-CALNAME:{_text(name)}",
        f"REFRESH-INTERVAL;VALUE=DURATION:{REFRESH}",
    ]
    for one in sorted(happenings, key=lambda h: (h.at, h.id)):
        lines += _event(one)
    lines.append("END:VCALENDAR")
    return b"".join(_folded(line) for line in lines)


def _event(one: Happening) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{_text(one.id)}"
    yield f"DTSTAMP:{_moment(one.changed)}"
    yield f"DTSTART:{_moment(one.at)}"
    yield f"DTEND:{_moment(one.at + LENGTH)}"
    yield f"SUMMARY:{_text(' '.join(one.title.split()))}"
    if one.body:
        yield f"DESCRIPTION:{_text(one.body)}"
    if one.url:
        # An address is no text: nothing in it is escaped, and nothing in it may break the line.
        yield f"URL:{NO_TEXT.sub('', one.url.split(maxsplit=1)[0])}"
    if one.danger:
        yield "PRIORITY:1"
    # It keeps nobody busy.
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _moment(at: datetime) -> str:
    if at.utcoffset() is None:
        raise ValueError(f"found a time without a zone: {at.isoformat()}")
    utc = at.astimezone(UTC)
    return f"{utc.year:04}{utc:%m%dT%H%M%S}Z"


def _text(text: str) -> str:
    """A text as a value (RFC 5545, section 3.3.11)."""
    lines = NO_TEXT.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
    return MARKS.sub(r"\\\g<0>", lines).replace("\n", "\\n")


def _folded(line: str) -> bytes:
    """A line in pieces of at most 75 octets, none of which ends within a letter."""
    pieces, rest, room = [], line.encode(), LINE_OCTETS
    while len(rest) > room:
        cut = room
        while rest[cut] & 0xC0 == 0x80:
            cut -= 1
        pieces.append(rest[:cut])
        # The space that begins the next piece counts.
        rest, room = rest[cut:], LINE_OCTETS - 1
    return b"\r\n ".join([*pieces, rest]) + b"\r\n"
