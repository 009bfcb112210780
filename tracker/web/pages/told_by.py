"""By what one is told: the page always; mail, a webhook or an address by name; and when not."""

from __future__ import annotations

from datetime import time
from typing import Any

from flask import current_app, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.channels import is_mail_address
from tracker.domain.errors import CardwrightError
from tracker.reminders.settings import QuietHours
from tracker.services import notices, notices_page, people, people_list
from tracker.services.due_calendar import due_calendar
from tracker.services.notices import CHANNELS, CannotAnswer
from tracker.services.notices_page import Way
from tracker.services.people_list import Token
from tracker.web import forms, session
from tracker.web.guard import allowed, open_to_all
from tracker.web.look import page, production
from tracker.web.outgoing import outgoing
from tracker.web.pages import pages
from tracker.web.who import Tokens

DONE = {
    "set": "You are told by it from now on, besides this page.",
    "dropped": "You are not told by it any more.",
    "tested": "A test went out, and was taken. Look whether it arrives.",
    "quiet": "Your quiet hours are set.",
    "ended": "That calendar shows nothing more.",
}


@pages.get("/me/told-by")
@allowed("mine")
def told_by() -> Any:
    """By what I am told, and in which hours I am not."""
    return _told_by(None)


def _told_by(wrong: CardwrightError | None, *, asks: bool = False) -> Any:
    """asks: whether danger is not to reach me in my quiet hours, to be said yes to."""
    service, me = session.service(), session.signed_in()
    settings = notices_page.settings(service)
    return page(
        "told_by.html",
        status=200 if wrong is None else 400,
        wrong=None if wrong is None else str(wrong),
        ways=_mine(),
        calendars=_calendars(),
        own=me.id in settings.quiet_of,
        quiet=settings.quiet_for(me.id),
        leaves=outgoing(),
        asks=asks,
        done=DONE.get(request.args.get("done", "")),
    )


def _mine() -> list[Way]:
    me = session.signed_in().id
    return [one for one in notices_page.ways(session.service()) if one.person == me]


@pages.post("/me/told-by")
@allowed("mine")
def be_told_by() -> Any:
    """Set an address, or be told by it no more."""
    service, me, kind = session.service(), session.signed_in(), _kind()
    try:
        if request.form.get("do") == "drop":
            notices.drop_channel(service, me.id, kind)
            return _back("dropped")
        address = request.form.get("address", "").strip()
        if kind == "mail" and not is_mail_address(address):
            raise CannotAnswer("That is no mail address: write one, as kim@box.example.")
        if kind == "apprise" and address not in outgoing().names:
            raise CannotAnswer("There is no address of that name: choose one that is set up.")
        notices.set_channel(service, me.id, kind, address)
    except CannotAnswer as error:
        return _told_by(error)
    return _back("set")


@pages.post("/me/told-by/test")
@allowed("mine")
def test_told_by() -> Any:
    """Send me a test."""
    service, me, kind = session.service(), session.signed_in(), _kind()
    known = {one.channel: one.address for one in _mine()}
    try:
        if kind not in known:
            raise CannotAnswer("Give an address first.")
        outgoing().test(me.id, kind, known[kind], production().name, service.clock())
    except CannotAnswer as error:
        return _told_by(error)
    return _back("tested")


@pages.post("/me/quiet")
@allowed("mine")
def my_quiet_hours() -> Any:
    """In which hours I am left alone."""
    service, me = session.service(), session.signed_in()
    chosen = request.form.get("quiet", "")
    try:
        if chosen == "own":
            hours = QuietHours(_clock("from"), _clock("until"), "pierced" in request.form)
            if hours.start == hours.end:
                raise CannotAnswer("Say until another time than the one it begins at.")
            if not hours.pierced and request.form.get("sure") != "yes":
                return _told_by(None, asks=True)
            notices.set_own_quiet(service, me, hours)
        else:
            notices.set_own_quiet(service, me, None if chosen == "none" else False)
    except CardwrightError as error:
        return _told_by(error)
    return _back("quiet")


# A calendar of what is due, for a program that reads calendars


CALENDAR = "a calendar"


@pages.post("/me/calendar")
@allowed("mine")
def make_calendar() -> Any:
    """A link by which a calendar shows me what is due; it is shown once."""
    service, me = session.service(), session.signed_in()
    token = people.make_token(service, me, CALENDAR, "calendar", None)
    link = request.host_url + url_for("pages.calendar_feed", token=token).lstrip("/")
    return page("calendar_made.html", link=link)


@pages.post("/me/calendar/end")
@allowed("mine")
def end_calendar() -> Response:
    """A calendar of mine shows nothing more."""
    service, me = session.service(), session.signed_in()
    given = forms.text("token", needed=True) or ""
    if given in {one.id for one in _calendars()}:
        people.revoke_token(service, me, given)
    return _back("ended")


def _calendars() -> list[Token]:
    mine = people_list.tokens(session.service(), session.signed_in())
    return [one for one in mine if one.scope == "calendar"]


@pages.get("/calendar/<token>.ics")
@open_to_all
def calendar_feed(token: str) -> Response:
    """What is due, for whoever has the link; nothing else can be had by it."""
    tokens: Tokens = current_app.extensions["cardwright.tokens"]
    found = tokens(token)
    if found is None or found[1] != "calendar":
        raise NotFound
    feed = due_calendar(session.service(), found[0], request.host_url)
    return Response(feed, mimetype="text/calendar")


def _clock(field: str) -> time:
    given = request.form.get(field, "")
    try:
        return time.fromisoformat(given).replace(tzinfo=None, second=0, microsecond=0)
    except ValueError:
        raise CannotAnswer(f"Say {field} when, as 22:00.") from None


def _kind() -> str:
    given = request.form.get("kind", "")
    if given not in CHANNELS:
        raise forms.fault("kind", given or "nothing", f"one of: {', '.join(CHANNELS)}")
    return given


def _back(done: str) -> Response:
    return redirect(url_for("pages.told_by", done=done), code=303)
