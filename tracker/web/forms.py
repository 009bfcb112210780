"""What a form says: who, when, and the id of the tap, so that nothing is doubled."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from flask import redirect, request
from werkzeug.wrappers import Response

from tracker.services import taps
from tracker.services.production import about
from tracker.services.service import Who
from tracker.web import session
from tracker.wire.faults import BadInput, Fault, shown

MINUTES_AGO = (0, 5, 15, 30)
"""Nobody taps at the moment it happens."""

AHEAD = timedelta(minutes=1)
"""How far a typed time may be ahead of our clock: a browser leaves the seconds out."""

YEARS = range(1970, 2201)
"""Any other year was mistyped."""

_TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?")

_OURS = re.compile(r"/(?![/\\])[^\\\x00-\x1f\x7f]*")
"""A browser takes a backslash for a slash, and leaves out tabs: neither may stand in it."""


@dataclass(frozen=True, slots=True)
class Tap:
    """One tap on a form. at: when it happened, aware; None is now. id: that of its fact.

    known: it was logged before: a form that is sent again says nothing new.
    """

    who: Who
    id: str
    at: datetime | None
    known: bool


def tap() -> Tap:
    """The tap that this form is. Errors: BadInput."""
    given = request.form.get("tap", "")
    try:
        fact_id = _of_button(UUID(given))
    except ValueError:
        raise fault("tap", given, "the id that the page gave: load the page again") from None
    return Tap(session.who(), fact_id, _when(), taps.is_known(session.service(), fact_id))


def _of_button(form: UUID) -> str:
    """The id of what a button says, of the form's own: two buttons of a form say two things.

    Only the random end of the id is changed, so that ids go on growing with time.
    """
    pressed = f"{request.path}\n{request.form.get('into', '')}".encode()
    end = int.from_bytes(hashlib.sha256(pressed).digest()[:7])
    return str(UUID(int=form.int ^ end))


def _when() -> datetime | None:
    """When it happened: a time of the production's clock, or so many minutes ago."""
    exact = request.form.get("at", "").strip()
    if exact:
        return _over(time("the exact time", exact), exact)
    given = request.form.get("when", "0")
    if given not in map(str, MINUTES_AGO):
        raise fault("when", given, "0, 5, 15 or 30 minutes ago")
    minutes = int(given)
    return session.service().clock() - timedelta(minutes=minutes) if minutes else None


def _over(at: datetime, given: str) -> datetime:
    """A time at which something happened. Errors: BadInput for one that is still to come."""
    now = session.service().clock()
    if at > now + AHEAD:
        clock = now.astimezone(about(session.service()).zone)
        over = f"a time that is over: it is {clock:%Y-%m-%d %H:%M} by the clock of the production"
        raise fault("the exact time", given, over)
    return at


def time(field: str, given: str) -> datetime:
    """A day and a time as a browser writes them, by the production's clock. Errors: BadInput."""
    expected = "a date and a time, as 2026-03-02T14:05"
    if not _TIME.fullmatch(given):
        raise fault(field, given, expected)
    try:
        local = datetime.fromisoformat(given)
    except ValueError:
        raise fault(field, given, expected) from None
    if local.year not in YEARS:
        raise fault(field, given, f"a year from {YEARS[0]} to {YEARS[-1]}")
    return local.replace(tzinfo=about(session.service()).zone)


def text(field: str, *, needed: bool = False) -> str | None:
    """What was typed into a field; None if nothing. Errors: BadInput where that is needed."""
    given = " ".join(request.form.get(field, "").split("\0")).strip()
    if needed and not given:
        raise fault(field, "nothing", "some words")
    return given or None


def number(field: str) -> int | None:
    """A whole number; None where nothing was typed. Errors: BadInput."""
    given = request.form.get(field, "").strip()
    if not given:
        return None
    if not re.fullmatch(r"[0-9]{1,18}", given):
        raise fault(field, given, "a whole number")
    return int(given)


def first() -> int:
    """From which line on a list is asked for; from its beginning where nothing usable is said."""
    given = request.args.get("from", "0")
    return int(given) if given.isascii() and given.isdigit() and len(given) < 9 else 0


def fault(field: str, found: str, expected: str) -> BadInput:
    """One thing that was said wrongly."""
    named = found if found == "nothing" else shown(found)
    return BadInput([Fault("", None, field, named, expected)])


def back(default: str) -> str:
    """Where the form wants to return to: an address of ours, else the default."""
    given = request.form.get("back", "")
    return given if is_ours(given) else default


def is_ours(address: str) -> bool:
    """Whether an address that was sent leads nowhere but here."""
    return _OURS.fullmatch(address) is not None


def done(default: str, tap: Tap) -> Response:
    """Return to where the form was, which then tells what was logged, or that nothing new was."""
    where = back(default)
    path, _, anchor = where.partition("#")
    path = re.sub(r"([?&])(said|again)=[^&]*(?=&|$)", r"\1", path)
    path = re.sub(r"&+", "&", path).replace("?&", "?").rstrip("?&")
    mark = "&" if "?" in path else "?"
    said = f"said={tap.id}{'&again=yes' if tap.known else ''}"
    return redirect(f"{path}{mark}{said}{'#' + anchor if anchor else ''}", code=303)
