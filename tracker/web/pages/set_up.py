"""Setting up: by the one-time link of a new production, the administrator and the backup rule."""

from __future__ import annotations

from typing import Any, get_args

from flask import current_app, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from tracker.domain.errors import CardwrightError
from tracker.domain.facts import Level
from tracker.domain.rule import RECOMMENDED, SHORT_POOL, BackupRule, in_words
from tracker.services import acts_day, people
from tracker.services.production import backup_rule, set_tape_rule
from tracker.services.service import Who
from tracker.web import forms, session
from tracker.web.guard import open_to_all
from tracker.web.look import page, production
from tracker.web.pages import pages

SPENT = 410


@pages.get("/set-up/<token>")
@open_to_all
def set_up(token: str) -> Any:
    """Who sets this up, and by which backup rule."""
    if not people.awaits_set_up(session.service(), token):
        return page("spent.html", status=SPENT)
    return _form(token, None)


@pages.post("/set-up/<token>")
@open_to_all
def set_up_now(token: str) -> Any:
    """Make the administrator, and say the rule; nothing is done where anything is wrong."""
    service = session.service()
    try:
        rule = _rule()
        if weak(rule) and request.form.get("weak") != in_words(rule):
            return _form(token, None, asked=rule)
        name, passphrase = request.form.get("name", ""), request.form.get("passphrase", "")
        agent = request.user_agent.string
        signed_in = people.set_up_first(service, token, name, passphrase, agent=agent)
    except people.LinkSpent:
        return page("spent.html", status=SPENT)
    except CardwrightError as error:
        return _form(token, error)
    person = people.session_of(service, signed_in)
    if person is not None and rule != backup_rule(service):
        acts_day.set_rule(service, Who(by=person.id, device=person.device), rule)
    set_tape_rule(service, request.form.get("tape_rule", "")[:500])
    return session.begin(redirect(url_for("pages.now"), code=303), signed_in)


def weak(rule: BackupRule) -> bool:
    """Whether a card would be formatted on the word of one copy, or of people alone."""
    return rule.copies == 1 or rule.level == "claimed"


def _form(token: str, wrong: CardwrightError | None, asked: BackupRule | None = None) -> Any:
    """The form. asked: a rule that was chosen, and is asked about first."""
    standing = backup_rule(session.service())
    chosen = request.form.get("rule") or _called(standing)
    return page(
        "set_up.html",
        status=409 if asked else 200 if wrong is None else 400,
        # What was asked about stays answered where something else is wrong.
        weak=in_words(asked) if asked else request.form.get("weak", "") if wrong else "",
        token=token,
        wrong=None if wrong is None else str(wrong),
        chosen=chosen,
        own=standing,
        levels=get_args(Level),
        says={"three": in_words(RECOMMENDED), "two": in_words(SHORT_POOL)},
        tape_rule=request.form.get("tape_rule") or production().tape_rule,
    )


def _called(rule: BackupRule) -> str:
    return {RECOMMENDED: "three", SHORT_POOL: "two"}.get(rule, "own")


def _rule() -> BackupRule:
    """Errors: BadInput."""
    chosen = request.form.get("rule", "")
    known = {"three": RECOMMENDED, "two": SHORT_POOL}
    if chosen in known:
        return known[chosen]
    if chosen != "own":
        raise forms.fault("rule", chosen or "nothing", "one of the three rules")
    levels: dict[str, Level] = {level: level for level in get_args(Level)}
    level = levels.get(request.form.get("level", ""))
    if level is None:
        raise forms.fault("level", request.form.get("level", ""), f"one of {', '.join(levels)}")
    copies = _between("copies", 1, 9)
    return BackupRule(
        copies,
        level,
        _between("kinds", 1, min(copies, 5)),
        _between("off_site", 0, copies),
        request.form.get("receipt") == "on",
        _between("hold_days", 0, 3650),
    )


def _between(field: str, least: int, most: int) -> int:
    given = forms.number(field)
    value = least if given is None else given
    if not least <= value <= most:
        raise forms.fault(field, str(value), f"{least} to {most}")
    return value


@pages.get("/come-in/<word>")
@open_to_all
def come_in(word: str) -> Response:
    """A link of the demo: it signs one of its people in."""
    token = current_app.extensions["cardwright.entrances"].get(word)
    if token is None:
        raise NotFound
    return session.begin(redirect(url_for("pages.now"), code=303), token)
