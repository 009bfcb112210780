"""What every page is drawn with: its templates, its files, and the words of times and sizes."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from flask import Flask, g, render_template, request, send_from_directory, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.domain.facts import Moment
from tracker.domain.sizes import show_bytes
from tracker.domain.words import FORMAT_WORDS, large
from tracker.reminders.notices import heartbeat
from tracker.reports import figure_files
from tracker.services import taps
from tracker.services.production import About, about
from tracker.services.roles import may
from tracker.services.service import new_id
from tracker.web import session
from tracker.web.forms import MINUTES_AGO
from tracker.web.guard import open_to_all
from tracker.web.leading import card_at

STATIC = Path(__file__).parent / "static"

PLOTLY = figure_files.PLOTLY
"""What draws figures. It is served from its installed package, and from nowhere outside."""

ADDRESSES = (
    ("pages.now", "Now", "look"),
    ("pages.loader", "Loader", "look"),
    ("pages.morning", "Morning", "look"),
    ("pages.drives", "Drives", "look"),
    ("pages.reminders", "Owed", "look"),
    ("pages.office", "Office", "office"),
    ("pages.people", "People", "invite"),
    ("pages.me", "Me", "mine"),
)
"""What stands at the top of every page: the address, its word, and whom it is for."""


def draw(app: Flask) -> None:
    """Give an app what its pages are drawn with."""
    app.add_url_rule("/static/<path:name>", "static_file", _static)
    env = app.jinja_env
    env.trim_blocks = env.lstrip_blocks = True
    env.globals.update(
        file=address_of, form_key=session.form_key, new_tap=new_id, minutes_ago=MINUTES_AGO,
        format_words=FORMAT_WORDS, large=large, said=_said, on_page=_on_page, may=_may,
        asked=_asked, card_at=card_at,
    )  # fmt: skip
    env.filters.update(clock=clock, day=day, ago=ago, size=size, iso=iso)


@open_to_all
def _static(name: str) -> Response:
    """A file of ours. With its digest in the address it may be kept for ever."""
    answer = send_from_directory(_folder_of(name), name, max_age=0)
    if request.args.get("v") == _digest(name):
        answer.headers["Cache-Control"] = "public, max-age=31536000, immutable"
    return answer


def address_of(name: str) -> str:
    """The address of a file of ours, which is another one when the file is."""
    return url_for("static_file", name=name, v=_digest(name))


@cache
def _folder_of(name: str) -> Path:
    return figure_files.plotly_file().parent if name == PLOTLY else STATIC


@cache
def _digest(name: str) -> str:
    folder = _folder_of(name)
    path = folder / name
    if path.resolve().parent != folder.resolve() or not path.is_file():
        raise NotFound
    return hashlib.sha256(path.read_bytes()).hexdigest()[:12]


def page(template: str, *, status: int = 200, **shown: Any) -> tuple[str, int]:
    """A page. shown: what its template names."""
    return render_template(template, **shown), status


def production() -> About:
    """The production, read once for each request."""
    if "about" not in g:
        g.about = about(session.service())
    found: About = g.about
    return found


def _on_page() -> dict[str, Any]:
    """What the frame of a page shows: the production, the time, who is signed in, where to go."""
    person = session.person()
    here = production()
    links = [
        (url_for(endpoint), word, request.endpoint == endpoint)
        for endpoint, word, action in ADDRESSES
        if person is not None and may(person.role, action)
    ]
    now = session.service().clock()
    return {"production": here, "person": person, "links": links, "now": now,
            "silent": _silent_since(now), "zone": str(here.zone),
            "back": session.address()}  # fmt: skip


def _silent_since(now: datetime) -> datetime | None:
    """Since when no reminders go out; None while they do, or where none were ever started."""
    if session.person() is None:
        return None
    beat = heartbeat(session.service(), now)
    return None if beat.alive else beat.last


def _may(action: str) -> bool:
    person = session.person()
    return person is not None and may(person.role, action)


def _said() -> taps.Told | None:
    """What the tap that led here logged; says nothing where it logged nothing."""
    tap = request.args.get("said", "")
    if not tap or session.person() is None:
        return None
    told = taps.told(session.service(), session.who(), tap)
    return told or taps.Told((), mine=False, fact=tap)


def _asked(name: str, default: str = "") -> str:
    """What a form said, so that a page that finds a fault keeps it."""
    return request.form.get(name, request.args.get(name, default))


# Words of times and sizes


def _zone() -> ZoneInfo:
    return production().zone


def _time(when: datetime | Moment) -> datetime:
    at = when if isinstance(when, datetime) else when[0]
    return at.astimezone(_zone())


def clock(when: datetime | Moment | None) -> str:
    """The time of day by the production's clock, with the day where it is not today."""
    if when is None:
        return "unknown"
    at = _time(when)
    today = session.service().clock().astimezone(_zone()).date()
    return f"{at:%H:%M}" if at.date() == today else f"{at:%d %b %H:%M}"


def day(when: datetime | Moment | None) -> str:
    """Date and time by the production's clock."""
    return "unknown" if when is None else f"{_time(when):%Y-%m-%d %H:%M}"


def iso(when: datetime | Moment | None) -> str:
    """A time as programs read it."""
    return "" if when is None else _time(when).isoformat()


def ago(when: datetime | Moment | None) -> str:
    """How long it is since, in the two largest units that say it."""
    if when is None:
        return "unknown"
    since = session.service().clock() - _time(when)
    minutes = max(0, int(since / timedelta(minutes=1)))
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes:02} min"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h"


def size(count: int | None) -> str:
    """Bytes as people say them; unknown where nobody knows."""
    return "unknown" if count is None else show_bytes(count)
