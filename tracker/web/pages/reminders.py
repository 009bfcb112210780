"""The reminders: what is owed, how they are set, what went out, and whose shift it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import time, timedelta
from typing import Any, get_args
from urllib.parse import urlencode

from flask import redirect, request, url_for
from werkzeug.wrappers import Response

from tracker.domain.errors import CardwrightError
from tracker.reminders.limits import Habit, Limits, Own
from tracker.reminders.rules import BY_NAME, RULES, Rule, as_set
from tracker.reminders.settings import BadSetting, QuietHours, Settings, from_json, to_json
from tracker.services import notices, notices_page, people_list
from tracker.services import shift as shifts
from tracker.services.now import rolls_below
from tracker.services.people import Person
from tracker.services.roles import MANAGERS, Role
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

HANDED_OVER = {
    "danger": "In danger",
    "bare": "Not backed up",
    "running": "Copies under way",
    "owed": "Reminders that are due",
    "promised": "Promised",
    "doubtful": "Doubtful",
    "hands": "In whose hands",
    "words": "In words",
}
"""What a hand-over holds, and its heading."""

DONE = {
    "taken": "It is yours: only you hear of it. A danger that stands on goes to everybody again.",
    "given": "Nobody has it any more: it goes to everybody again.",
    "later": "It is held back. It is not skipped: it comes when the time is over.",
    "ended": "It is not held back any more.",
    "set": "The reminders are set so from now on. What was set before is kept below.",
    "offered": "It is offered. Until it is accepted, you go on getting the notices.",
    "accepted": "The notices come to you now.",
    "withdrawn": "The offer is taken back.",
    "gone": "The notices go to every data manager again.",
}

WORDS = {
    "after": "After so many hours",
    "repeat": "Again every so many hours",
    "escalate_after": "A danger that nobody answers goes on after",
    "morning_list": "List of the morning goes at",
    "quiet_start": "Quiet from",
    "quiet_end": "Quiet until",
}
"""What the form calls its fields."""

AT_LEAST = timedelta(minutes=1)
"""How often the clock of the reminders looks: nothing shorter is kept."""


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
        below=rolls_below(service),
        off=notices_page.not_told(service),
        may_take=lambda one: _may_take(me, one),
        mine=[one for one in things if me.name in one.to],
        others=[one for one in things if me.name not in one.to],
        notes=[one for one in seen.owed if one.condition.severity == "note"],
        held_back=notices_page.snoozes(service),
        offers=[one for one in _open_offers() if one.taker_id == me.id],
        me=me,
        later=LATER,
        done=DONE.get(request.args.get("done", "")),
    )


def _may_take(me: Person, one: notices_page.Owed) -> bool:
    told = {*one.condition.who, *one.gone_on}
    return me.role in MANAGERS or me.role in told or me.name in one.to


@pages.post("/reminders/take")
@allowed("take")
def take() -> Any:
    """I have it; or I have not any more."""
    service, spell = session.service(), forms.text("spell", needed=True) or ""
    try:
        if request.form.get("give") == "back":
            notices.give_back(service, spell, session.signed_in())
            return _back("given")
        notices.take(service, session.signed_in(), spell, shown=request.form.get("holder"))
    except notices.CannotAnswer as error:
        return _owed(error)
    return _back("taken")


@pages.post("/reminders/later")
@allowed("snooze")
def later() -> Any:
    """Hold something back for a while; with a reason and an end."""
    service, who, tap = session.service(), session.signed_in(), forms.tap()
    given = request.form.get("minutes", "")
    try:
        if given not in LATER:
            raise notices.CannotAnswer(f"Say for how long: {', '.join(LATER.values())}.")
        notices.snooze(
            service,
            who,
            until=service.clock() + timedelta(minutes=int(given)),
            reason=request.form.get("reason", ""),
            subject=forms.text("subject", needed=True),
            rule=forms.text("rule", needed=True),
            tap=tap.id,
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


def _rules(wrong: CardwrightError | None, asks: Sequence[str] = ()) -> Any:
    """asks: what nobody would be told any more, to be said yes to."""
    old = isinstance(wrong, notices.SetMeanwhile)
    # Before the rest, so that the page is never older than the version it names.
    history = notices_page.history(session.service())
    return page(
        "reminder_rules.html",
        status=200 if wrong is None else 409 if old else 400,
        wrong=None if wrong is None else str(wrong),
        asks=asks,
        opened=request.form.get("rule", "") if (wrong or asks) and not old else None,
        typed=_typed(keep=not old),
        rules=notices_page.rules(session.service()),
        settings=notices_page.settings(session.service()),
        history=history,
        version=history[0].version if history else 0,
        usual=BY_NAME,
        habits=get_args(Habit),
        hours=hours,
        span=span,
        clock_time=lambda at: "" if at is None else f"{at:%H:%M}",
        done=DONE.get(request.args.get("done", "")),
    )


def _typed(*, keep: bool) -> Callable[[str, str, str], str]:
    """Gives what was typed into a field of the form of a rule ("" for all), else its default."""

    def typed(rule: str, field: str, default: str) -> str:
        mine = keep and request.method == "POST" and request.form.get("rule", "") == rule
        return request.form.get(field, "") if mine else default

    return typed


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
        after = _for_all(before) if name is None else _of_rule(before, _rule(name))
        asks = _asks(before, after)
        if asks and request.form.get("sure") != "yes":
            return _rules(None, asks)
        version = forms.number("version")
        notices.set_settings(service, session.signed_in(), after, after=version)
    except CardwrightError as error:
        return _rules(error)
    return _back("set", "pages.reminder_rules")


def _rule(name: str) -> Rule:
    if name not in BY_NAME:
        raise BadSetting("Rule", name, f"one of {', '.join(BY_NAME)}")
    return BY_NAME[name]


def _asks(before: Settings, after: Settings) -> list[str]:
    """Of which dangers nobody would be told any more, or not at every hour."""
    was, will = (one.chosen.production.rules for one in (before, after))
    stopped = {
        rule.name
        for rule in RULES
        if as_set(rule, was.get(rule.name)).on and not as_set(rule, will.get(rule.name)).on
    }
    found = []
    for one in notices_page.rules(session.service()) if stopped else ():
        dangers = [c for c in one.says if c.severity == "danger"]
        if one.rule.name in stopped and (one.rule.severity == "danger" or dangers):
            found.append(f"Nobody is told of this danger any more: {one.rule.name}.")
            found += [f"It stands now, and nobody would hear of it: {c.says}" for c in dangers]
    quiet = after.quiet
    if quiet is not None and not quiet.pierced and quiet != before.quiet:
        start, end = f"{quiet.start:%H:%M}", f"{quiet.end:%H:%M}"
        found.append(f"From {start} to {end} nobody is told of any danger: it waits until {end}.")
    return found


def _of_rule(before: Settings, rule: Rule) -> Settings:
    """One rule set anew. Errors: BadSetting."""
    limits = before.chosen.production
    said = Own(
        on=request.form.get("on") == "on",
        after=_span("after", zero=True),
        delay=limits.rules.get(rule.name, Own()).delay,
        repeat=_span("repeat"),
    )
    rules = {**limits.rules, rule.name: said}
    return _with(before, replace(limits, rules=rules))


def _for_all(before: Settings) -> Settings:
    """The habit, the list of the morning, quiet hours and when a danger goes on.

    Errors: BadSetting.
    """
    limits = before.chosen.production
    habit = request.form.get("habit", "")
    known: dict[str, Habit] = {one: one for one in get_args(Habit)}
    if habit not in known:
        raise BadSetting("Cards are copied", habit, f"one of {', '.join(known)}")
    limits = replace(limits, habit=known[habit], morning_list=_clock("morning_list"))
    quiet, after = _quiet(), _span("escalate_after")
    return replace(_with(before, limits), quiet=quiet, escalate_after=after)


def _quiet() -> QuietHours | None:
    given = request.form.get("quiet_start", ""), request.form.get("quiet_end", "")
    if not any(given):
        return None
    start, end = _clock("quiet_start"), _clock("quiet_end")
    if start == end:
        raise BadSetting(WORDS["quiet_end"], given[1], "another time than the one it begins at")
    return QuietHours(start, end, "pierced" in request.form)


def _clock(field: str) -> time:
    given = request.form.get(field, "")
    try:
        return time.fromisoformat(given).replace(tzinfo=None, second=0, microsecond=0)
    except ValueError:
        raise BadSetting(WORDS[field], given or "nothing", "a time of day like 07:00") from None


def _with(before: Settings, limits: Limits) -> Settings:
    chosen = replace(before.chosen, production=limits)
    # By way of what is kept, so that only what can be kept is taken.
    return from_json(to_json(replace(before, chosen=chosen)))


def _span(field: str, *, zero: bool = False) -> timedelta | None:
    """A length of time in hours; None where nothing was typed: as usual. Errors: BadSetting.

    zero: whether none at all can be meant.
    """
    given = request.form.get(field, "").strip().replace(",", ".")
    if not given:
        return None
    try:
        count = float(given)
    except ValueError:
        count = -1.0
    length = timedelta(seconds=round(count * 3600)) if 0 <= count <= 24 * 365 else None
    if length is None or (length < AT_LEAST and not (zero and count == 0)):
        raise BadSetting(WORDS[field], given, "hours, as 2 or 0.5, and at least 1 minute")
    return length


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
    stands = before[0] if before and before[0].stands else None
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
        has=stands,
        lets_go=stands is not None and _lets_go(who, stands),
        hands_on=stands is None or who.id == stands.taker_id or who.role == "administrator",
        takers=[one for one in here if one.role in MANAGERS and one.id != who.id],
        me=who,
        done=DONE.get(request.args.get("done", "")),
    )


def _lets_go(who: Person, one: shifts.Shift) -> bool:
    return who.role == "administrator" or who.id in (one.taker_id, one.giver_id)


@pages.post("/shift/offer")
@allowed("offer_shift")
def offer_shift() -> Any:
    """Offer the notices to the next one, with the list as it stands now."""
    service, who = session.service(), session.signed_in()
    taker = forms.text("taker") or ""
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


@pages.post("/shift/let-go")
@allowed("offer_shift")
def let_go_of_shift() -> Any:
    """The notices go to everybody of the role again."""
    return _answered(notices.let_go_of_shift, "gone")


def _answered(act: Any, done: str) -> Any:
    try:
        act(session.service(), session.signed_in(), forms.text("shift", needed=True) or "")
    except notices.CannotAnswer as error:
        return _shift(error)
    return _back(done, "pages.shift")
