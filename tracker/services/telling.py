"""One card and its history, told in sentences and as JSON."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from tracker.domain.facts import END, Moment
from tracker.domain.fold import Production, in_order
from tracker.domain.needs import needs
from tracker.domain.permissions import may_clear
from tracker.domain.sentences import sentence
from tracker.domain.status import CardView, view
from tracker.domain.voids import voided_by
from tracker.services.looking import one_card, probably_out_now
from tracker.services.service import Service


def one_card_for_programs(service: Service, label: str) -> dict[str, Any]:
    """The card that has a label, or had it last, as JSON. Errors: UnknownLabel."""
    production, state = one_card(service, label)
    out = probably_out_now(service)
    now = (service.clock(), *END[1:])
    return card_for_programs(production, view(state, production.context), out, now)


def history(production: Production, shown: CardView) -> list[dict[str, Any]]:
    """What happened to a card, in order: time, sentence, mishaps made, and whether taken back."""
    facts = production.facts[shown.state.card_id]
    gone = voided_by(facts)
    by_id = {fact.id: fact for fact in facts}
    made: dict[str, list[str]] = {}
    for mishap in shown.state.mishaps.values():
        settled = "" if mishap.stands else " (settled)"
        roll_id = mishap.key.roll
        roll = "" if roll_id is None else f" [{shown.state.rolls[roll_id].name}]"
        made.setdefault(mishap.key.fact, []).append(mishap.kind.says + roll + settled)
    return [
        {
            "at": fact.occurred_at.astimezone(production.context.zone).isoformat(),
            "event": fact.event,
            "id": fact.id,
            "says": sentence(fact, by_id, production.context.zone),
            "mishaps": made.get(fact.id, []),
            "voided_by": None if fact.id in production.kept else gone.get(fact.id),
        }
        for fact in in_order(list(facts))
    ]


def card_for_programs(
    production: Production,
    shown: CardView,
    probably_out: Collection[str] = (),
    now: Moment = END,
) -> dict[str, Any]:
    """One card as JSON. probably_out: as of `needs`. now: by it the days of a hold are over."""
    (told,) = needs([shown], production.context, probably_out)
    return {
        "label": shown.label,
        "labels": list(shown.state.labels),
        "status": shown.status,
        "camera": shown.camera,
        "holds": [roll.name for roll in shown.holds],
        "uncovered": [roll.name for roll in shown.uncovered],
        "cycles": shown.cycles,
        "bytes_logged": shown.bytes_logged,
        "who": told.who,
        "next": told.what,
        "may_format": told.may_format,
        "reasons_not_to_clear": [r.says for r in may_clear(shown.state, production.context, now)],
        "history": history(production, shown),
    }
