"""The people of the production, and who may come in. For the administrator."""

from __future__ import annotations

from typing import Any

import segno
from flask import redirect, request, url_for
from markupsafe import Markup
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.services import people, people_list
from tracker.services.people import INVITATION_HOLDS, BadName, Person
from tracker.services.people_list import Listed
from tracker.services.role_words import IN_SHORT
from tracker.services.roles import ROLES
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages

QUIET_ZONE = 4
"""Modules around a code: as the QR standard (ISO/IEC 18004) asks."""

ONLY_HERE = ("127.0.0.1", "localhost", "[::1]")
"""Hosts that mean this computer, on whichever computer one is."""

DONE = {
    "withdrawn": "The link was withdrawn: it lets nobody in any more.",
    "out": "They were let out, and are signed out everywhere.",
    "ended": "That device is signed out.",
    "revoked": "The token was revoked: it lets nothing in any more.",
}


@pages.get("/people", endpoint="people")
@allowed("invite")
def everybody() -> Any:
    """Who is here, who is invited, and which programs come in."""
    return _everybody(None)


@pages.post("/people")
@allowed("invite")
def invite() -> Any:
    """Make a link for somebody; it is shown once."""
    service, name, role = session.service(), request.form.get("name", ""), _role()
    if role is None:
        return _everybody("Choose their role.")
    try:
        token = people.invite(service, session.signed_in(), role, name)
    except BadName as error:
        return _everybody(str(error))
    link = request.host_url + url_for("pages.join", token=token).lstrip("/")
    return page(
        "invited.html",
        name=" ".join(name.split()),
        role=role,
        link=link,
        code=code_of(link),
        until=service.clock() + INVITATION_HOLDS,
        only_here=request.host.rpartition(":")[0] in ONLY_HERE or request.host in ONLY_HERE,
    )


def code_of(link: str) -> Markup:
    """A QR code of a link, to stand in a page: dark on white, without a style of its own."""
    code = segno.make(link, micro=False, error="m")
    drawn = code.svg_inline(border=QUIET_ZONE, dark="#000", light="#fff", omitsize=True)
    # Safe: it is drawn from modules, and no text of anybody stands in it.
    return Markup(drawn)


def _everybody(wrong: str | None) -> Any:
    service = session.service()
    return page(
        "people.html",
        status=200 if wrong is None else 400,
        wrong=wrong,
        done_words=DONE,
        me=session.signed_in(),
        roles=IN_SHORT.items(),
        everybody=people_list.everybody(service),
        invited=people_list.invited(service),
        tokens=people_list.tokens(service),
    )


def _role() -> str | None:
    given = request.form.get("role", "")
    return given if given in ROLES else None


@pages.post("/people/withdraw")
@allowed("invite")
def withdraw() -> Response:
    """A link lets nobody in any more."""
    name = forms.text("name", needed=True) or ""
    people.withdraw_invitation(session.service(), session.signed_in(), name)
    return _back("withdrawn")


@pages.get("/people/<person>")
@allowed("invite")
def person(person: str) -> Any:
    """Where somebody is signed in."""
    found = _listed(person)
    sessions = people.sessions(session.service(), Person(found.id, found.name, found.role))
    return page("person.html", person=found, sessions=sessions, me=session.signed_in())


@pages.post("/people/sessions/end")
@allowed("revoke")
def end_session() -> Response:
    """Somebody is signed out on one device."""
    device = forms.text("device", needed=True) or ""
    people.revoke_session(session.service(), session.signed_in(), device)
    return _back("ended")


@pages.get("/people/<person>/out")
@allowed("revoke")
def ask_out(person: str) -> Any:
    """What it means to let somebody out."""
    found = _listed(person)
    service = session.service()
    return page(
        "person_out.html",
        person=found,
        me=session.signed_in(),
        last=found.role == "administrator" and _administrators() == 1,
        tokens=people_list.tokens(service, Person(found.id, found.name, found.role)),
    )


@pages.post("/people/<person>/out")
@allowed("revoke")
def out(person: str) -> Response:
    """Somebody does not belong here any more."""
    found = _listed(person)
    people.revoke_person(session.service(), session.signed_in(), found.id)
    return _back("out")


def _listed(person: str) -> Listed:
    for one in people_list.everybody(session.service()):
        if one.id == person:
            return one
    raise NotFound


def _administrators() -> int:
    every = people_list.everybody(session.service())
    return sum(one.role == "administrator" for one in every)


def _back(done: str) -> Response:
    return redirect(url_for("pages.people", done=done), code=303)
