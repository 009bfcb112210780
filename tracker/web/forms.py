"""What a form says: who, when, and the id of the tap, so that nothing is doubled."""

from __future__ import annotations

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

_OURS = re.compile(r"/(?![/\\])[^\\\x00-\x1f\x7f]*")
"""A browser takes a backslash for a slash, and leaves out tabs: neither may stand in it."""


@dataclass(frozen=True, slots=True)
class Tap:
    """One tap on a form. at: when it happened, aware; None is now. id: that of its fact."""

    who: Who
    id: str
    at: datetime | None

    @property
    def known(self) -> bool:
        """Whether it was logged before: a form that is sent again says nothing new."""
        return taps.is_known(session.service(), self.id)


def tap() -> Tap:
    """The tap that this form is. Errors: BadInput."""
    given = request.form.get("tap", "")
    try:
        fact_id = str(UUID(given))
    except ValueError:
        raise fault("tap", given, "the id that the page gave: load the page again") from None
    return Tap(session.who(), fact_id, _when())


def _when() -> datetime | None:
    """When it happened: a time of the production's clock, or so many minutes ago."""
    exact = request.form.get("at", "").strip()
    if exact:
        try:
            local = datetime.fromisoformat(exact)
        except ValueError:
            raise fault("at", exact, "a date and a time, as 2026-03-02T14:05") from None
        if local.tzinfo is not None:
            return local
        return local.replace(tzinfo=about(session.service()).zone)
    given = request.form.get("when", "0")
    if given not in map(str, MINUTES_AGO):
        raise fault("when", given, "0, 5, 15 or 30 minutes ago")
    minutes = int(given)
    return session.service().clock() - timedelta(minutes=minutes) if minutes else None


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


def done(default: str, tap_id: str) -> Response:
    """Return to where the form was, which then tells what was logged."""
    where = back(default)
    path, _, anchor = where.partition("#")
    path = re.sub(r"([?&])said=[^&]*&?", r"\1", path).rstrip("?&")
    mark = "&" if "?" in path else "?"
    return redirect(f"{path}{mark}said={tap_id}{'#' + anchor if anchor else ''}", code=303)
