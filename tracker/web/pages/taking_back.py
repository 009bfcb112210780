"""One's own last tap is taken back; what would be lost, or given leave to, is asked first."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from flask import request, url_for

from tracker.domain.facts import CardFact, Fact
from tracker.services import taps
from tracker.services.acts_back import my_last, take_back_last
from tracker.services.card_page import card_page
from tracker.services.card_trying import alone, if_said
from tracker.services.service import Service, Who
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.web.pages.card_asks import breaks, gives

A_SLIP_LASTS = timedelta(minutes=2)
"""So soon a slip of the thumb is taken back without a question."""

NOTHING_RESTS_ON = ("handed_over", "noted", "damage_noted")
"""What can go without a roll, a copy or a leave going with it."""

MOST_CARDS = 4
"""Of a tap about more cards only these are tried: such a tap hands them over, or says copies."""


@pages.post("/take-back")
@allowed("take_back_last")
def take_back() -> Any:
    """One's own last tap was a mistake; what hangs on it is asked first."""
    tap = forms.tap()
    if not tap.known:
        shown = forms.text("shown", needed=True) or ""
        with alone(session.service()) as inside:
            asks = asked(inside, tap.who, shown)
            if not asks or request.form.get("sure") == mark(asks):
                take_back_last(inside, tap.who, shown=shown, tap=tap.id)
                asks = []
        if asks:
            return _ask(asks)
    return forms.done(url_for("pages.now"), tap)


def _ask(asks: Sequence[str]) -> Any:
    last = taps.last(session.service(), session.who())
    where = forms.back(url_for("pages.now"))
    return page("take_back.html", last=last, asks=asks, sure=mark(asks), back=where)


def asked(service: Service, who: Who, shown: str) -> list[str]:
    """What follows for the cards of one's last tap; nothing where it can simply go.

    shown: the id of a fact of the tap that the page showed.
    """
    facts = my_last(service, who)
    if shown.lower() not in {fact.id for fact in facts} or _is_slip(service, facts):
        return []
    if all(fact.event in NOTHING_RESTS_ON for fact in facts):
        return []
    labels = dict.fromkeys(fact.card for fact in facts if isinstance(fact, CardFact))
    return [said for label in list(labels)[:MOST_CARDS] for said in _of(service, who, shown, label)]


def _is_slip(service: Service, facts: Sequence[Fact]) -> bool:
    since = service.clock() - max(fact.logged_at for fact in facts)
    # The times of logging run a little ahead of the clock where much is logged at once.
    return abs(since) < A_SLIP_LASTS


def _of(service: Service, who: Who, shown: str, label: str) -> list[str]:
    before = card_page(service, label)
    after = if_said(service, label, lambda trying: take_back_last(trying, who, shown=shown))
    if after is None:
        return []
    says = [*breaks(before, after), *gives(before, after)]
    return [f"{label}: {one}" for one in dict.fromkeys(says)]


def mark(says: Sequence[str]) -> str:
    """What stands for what was asked: if something else follows by now, it is asked again."""
    return hashlib.sha256("\n".join(says).encode()).hexdigest()[:16]
