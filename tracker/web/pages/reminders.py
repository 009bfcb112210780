"""The reminders: what is owed, how they are set, what went out, and whose shift it is."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any, get_args
from urllib.parse import urlencode

from flask import redirect, request, url_for
from werkzeug.wrappers import Response

from tracker.domain.errors import CardwrightError
from tracker.reminders.limits import Habit, Limits, Own
from tracker.reminders.rules import BY_NAME, Rule
from tracker.reminders.settings import BadSetting, Settings, from_json, to_json
from tracker.services import notices, notices_page, people_list
from tracker.services import shift as shifts
from tracker.services.roles import Role
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages

LATER = {"60": "1 hour", "180": "3 hours", "720": "12 hours"}
"""For how many minutes something is held back, as the form offers it."""

AT_ONCE = 50
"""Messages on a page."""

STATES = {
    "queued": ("waiting to go", "decided, and not handed on yet"),
    "leased": ("being handed on", "it is handed on at this moment"),
    "retried": ("tried again later", "the channel did not take it; it is tried for 48 hours"),
    "dead": ("given up", "it did not arrive, and is not tried any more"),
    "sent": ("sent", "the channel took it"),
    "superseded": ("settled before", "what it was about was settled before it went out"),
}
"""What each state is called, and what it means."""

SHIFT_OF: Role = "data manager"
"""Whose notices change hands: the others work in one shift."""

MAY_TAKE: tuple[Role, ...] = ("data manager", "administrator")

HANDED_OVER = {
    "running": "Copies under way",
    "owed": "Owed",
    "promised": "Promised",
    "doubtful": "Doubtful",
    "hands": "In whose hands",
    "words": "In words",
}
"""What a hand-over holds, and its heading."""

DONE = {
    "taken": "It is yours: from now on only you hear of it, until it is settled.",
    "given": "Nobody has it any more: it goes to everybody again.",
    "later": "It is held back. It is not skipped: it comes when the time is over.",
    "ended": "It is not held back any more.",
    "set": "The reminders are set so from now on. What was set before is kept below.",
    "offered": "It is offered. Until it is accepted, you go on getting the notices.",
    "accepted": "The notices come to you now.",
    "withdrawn": "The offer is taken back.",
}


@pages.get("/reminders", endpoint="reminders")
@allowed("look")
def what_is_owed() -> Any:
    """What is owed, by whom, since when, and when the next notice goes."""
    return _owed(None)


def _owed(wrong: CardwrightError | None) -> Any:
    service, me = session.service(), session.signed_in()
    seen = notices_page.owed(service)
    things = [one for one in seen.owed if one.condition.severity != "note"]
    return page(
        "reminders.html",
        status=200 if wrong is None else 400,
        wrong=None if wrong is None else str(wrong),
        seen=seen,
        mine=[one for one in things if me.name in one.to],
        others=[one for one in things if me.name not in one.to],
        notes=[one for one in seen.owed if one.condition.severity == "note"],
        held_back=notices_page.snoozes(service),
        offers=[one for one in _open_offers() if one.taker_id == me.id],
        me=me,
        later=LATER,
        done=DONE.get(request.args.get("done", "")),
    )


@pages.post("/reminders/take")
@allowed("take")
def take() -> Any:
    """I have it; or I have not any more."""
    service, spell = session.service(), forms.text("spell", needed=True) or ""
    try:
        if request.form.get("give") == "back":
            notices.give_back(service, spell)
            return _back("given")
        notices.take(service, session.signed_in(), spell)
    except notices.CannotAnswer as error:
        return _owed(error)
    return _back("taken")


@pages.post("/reminders/later")
@allowed("snooze")
def later() -> Any:
    """Hold something back for a while; with a reason and an end."""
    service, who = session.service(), session.signed_in()
    given = request.form.get("minutes", "")
    if given not in LATER:
        raise forms.fault("minutes", given or "nothing", f"one of: {', '.join(LATER.values())}")
    try:
        notices.snooze(
            service,
            who,
            until=service.clock() + timedelta(minutes=int(given)),
            reason=request.form.get("reason", ""),
            subject=forms.text("subject", needed=True),
            rule=forms.text("rule", needed=True),
        )
    except notices.CannotAnswer as error:
        return _owed(error)
    return _back("later")


@pages.post("/reminders/not-later")
@allowed("snooze")
def not_later() -> Any:
    """It is held back no more."""
    held = forms.text("snooze", needed=True) or ""
    try:
        notices.end_snooze(session.service(), session.signed_in(), held)
    except notices.CannotAnswer as error:
        return _owed(error)
    return _back("ended")


def _back(done: str, to: str = "pages.reminders") -> Response:
    return redirect(url_for(to, done=done), code=303)


# How they are set


@pages.get("/reminders/rules")
@allowed("look")
def reminder_rules() -> Any:
    """Every rule with its limits and history, and what it would say today."""
    return _rules(None)


def _rules(wrong: CardwrightError | None) -> Any:
    return page(
        "reminder_rules.html",
        status=200 if wrong is None else 400,
        wrong=None if wrong is None else str(wrong),
        rules=notices_page.rules(session.service()),
        settings=notices_page.settings(session.service()),
        history=notices_page.history(session.service()),
        usual=BY_NAME,
        habits=get_args(Habit),
        hours=hours,
        span=span,
        clock_time=lambda at: "" if at is None else f"{at:%H:%M}",
        done=DONE.get(request.args.get("done", "")),
    )


def hours(span: timedelta | None) -> str:
    """A length of time in hours, as the form takes it; nothing for never."""
    return "" if span is None else f"{span / timedelta(hours=1):g}"


def span(length: timedelta | None) -> str:
    """A length of time in words."""
    minutes = 0 if length is None else round(length / timedelta(minutes=1))
    return f"{minutes} min" if minutes % 60 else f"{minutes // 60} h"


@pages.post("/reminders/rules")
@allowed("set_settings")
def set_rules() -> Any:
    """Set one rule, or what holds for all of them; what was set before is kept."""
    service = session.service()
    before = notices_page.settings(service)
    try:
        name = forms.text("rule")
        if name is None:
            after = _for_all(before)
        else:
            after = _of_rule(before, BY_NAME[name]) if name in BY_NAME else before
        notices.set_settings(service, session.signed_in(), after)
    except CardwrightError as error:
        return _rules(error)
    return _back("set", "pages.reminder_rules")


def _of_rule(before: Settings, rule: Rule) -> Settings:
    """One rule set anew. Errors: BadSetting."""
    said = Own(
        on=request.form.get("on") == "on",
        after=_span("after"),
        delay=_span("delay"),
        repeat=_span("repeat"),
    )
    limits = before.chosen.production
    rules = {**limits.rules, rule.name: said}
    return _with(before, replace(limits, rules=rules))


def _for_all(before: Settings) -> Settings:
    """The habit, the list of the morning, quiet hours and when a danger goes on."""
    limits = before.chosen.production
    habit = request.form.get("habit", "")
    known: dict[str, Habit] = {one: one for one in get_args(Habit)}
    if habit not in known:
        raise BadSetting("copying habit", habit, f"one of {', '.join(known)}")
    said = to_json(_with(before, replace(limits, habit=known[habit])))
    said["production"]["morning_list"] = request.form.get("morning_list", "")
    start, end = request.form.get("quiet_start", ""), request.form.get("quiet_end", "")
    said.pop("quiet", None)
    if start or end:
        said["quiet"] = {"start": start, "end": end, "pierced": "pierced" in request.form}
    after = _span("escalate_after")
    said["escalate_after_s"] = None if after is None else after.total_seconds()
    return from_json(said)


def _with(before: Settings, limits: Limits) -> Settings:
    chosen = replace(before.chosen, production=limits)
    # By way of what is kept, so that only what can be kept is taken.
    return from_json(to_json(replace(before, chosen=chosen)))


def _span(field: str) -> timedelta | None:
    """A length of time in hours; None where nothing was typed: as usual. Errors: BadSetting."""
    given = request.form.get(field, "").strip().replace(",", ".")
    if not given:
        return None
    try:
        count = float(given)
    except ValueError:
        count = -1.0
    if not 0 <= count <= 24 * 366:
        raise BadSetting(field.replace("_", " "), given, "hours, as 2 or 0.5")
    return timedelta(hours=count)


# What went out


@pages.get("/reminders/outbox")
@allowed("outbox")
def outbox() -> Any:
    """Every message, what became of it, and what was in it."""
    asked = [state for state in request.args.getlist("state") if state in STATES]
    first = forms.first()
    service = session.service()
    counts = notices_page.states(service)
    total = sum(count for state, count in counts.items() if not asked or state in asked)

    def at(start: int) -> str:
        query = urlencode([*(("state", one) for one in asked), ("from", start)])
        return f"{url_for('pages.outbox')}?{query}"

    return page(
        "outbox.html",
        messages=notices_page.outbox(service, states=asked, first=first, at_most=AT_ONCE),
        counts={state: counts[state] for state in STATES if state in counts},
        states=STATES,
        asked_for=asked,
        newer=at(max(0, first - AT_ONCE)) if first else None,
        older=at(first + AT_ONCE) if first + AT_ONCE < total else None,
    )


# Whose shift it is


@pages.get("/shift")
@allowed("look")
def shift() -> Any:
    """What runs, is owed, promised and doubtful, in whose hands; and who takes the notices."""
    return _shift(None)


def _open_offers() -> list[shifts.Shift]:
    return [one for one in shifts.shifts(session.service()) if one.accepted_at is None]


def _shift(wrong: CardwrightError | None) -> Any:
    service, who = session.service(), session.signed_in()
    before = [one for one in shifts.shifts(service) if one.accepted_at is not None]
    offers = _open_offers()
    here = people_list.everybody(service)
    return page(
        "shift.html",
        status=200 if wrong is None else 400,
        wrong=None if wrong is None else str(wrong),
        stands=shifts.to_hand_over(service).said(),
        headings=HANDED_OVER,
        offer=offers[0] if offers else None,
        before=before,
        takers=[one for one in here if one.role in MAY_TAKE and one.id != who.id],
        me=who,
        done=DONE.get(request.args.get("done", "")),
    )


@pages.post("/shift/offer")
@allowed("offer_shift")
def offer_shift() -> Any:
    """Offer the notices to the next one, with the list as it stands now."""
    service, who = session.service(), session.signed_in()
    taker = forms.text("taker", needed=True) or ""
    said = shifts.to_hand_over(service).said()
    words = forms.text("words")
    if words:
        said["words"] = [words]
    try:
        notices.offer_shift(service, who, SHIFT_OF, taker, said)
    except notices.CannotAnswer as error:
        return _shift(error)
    return _back("offered", "pages.shift")


@pages.post("/shift/accept")
@allowed("mine")
def accept_shift() -> Any:
    """Take the notices over."""
    return _answered(notices.accept_shift, "accepted")


@pages.post("/shift/withdraw")
@allowed("offer_shift")
def withdraw_shift() -> Any:
    """Take an offer back."""
    return _answered(notices.withdraw_shift, "withdrawn")


def _answered(act: Any, done: str) -> Any:
    try:
        act(session.service(), session.signed_in(), forms.text("shift", needed=True) or "")
    except notices.CannotAnswer as error:
        return _shift(error)
    return _back(done, "pages.shift")
