"""What a person may say, asked at the moment of saying it; a history is taken as it stands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sqlalchemy import Connection

from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import (
    CardFact,
    Cleared,
    CopyFinished,
    Fact,
    Formatted,
    Loaded,
    Pulled,
    moment,
)
from tracker.domain.fold import can_step, fold, mirrors_of
from tracker.domain.permissions import Reason, may_clear
from tracker.domain.step import place
from tracker.domain.voids import is_void
from tracker.services.errors import Refused
from tracker.services.reels import guess
from tracker.services.service import Service, Who
from tracker.store import journal
from tracker.store.around import Around
from tracker.store.labels import labels_for
from tracker.store.projection import context_for, read_state
from tracker.wire.faults import BadInput, Fault


def permit(service: Service, conn: Connection, fact: Fact, who: Who, production: Any) -> Fact:
    """Ask for what needs permission, and name a roll that nobody named.

    Errors: Refused; UnknownLabel for a camera or a card; BadInput for what only a reader may say.
    """
    if isinstance(fact, Cleared) and fact.override_reason is None:
        reasons = _may_not_clear(conn, fact, service.memory.look(conn, production))
        if reasons:
            raise Refused(fact.card, reasons)
    if isinstance(fact, Pulled | CopyFinished) and fact.measured and not who.reader:
        expected = "false or nothing: only a cart computer's reader counts"
        raise BadInput([Fault("", None, "measured", "true", expected)])
    if isinstance(fact, Loaded | Formatted) and fact.camera is not None:
        cameras = service.memory.look(conn, production).cameras
        if fact.camera not in cameras:
            raise UnknownLabel("camera", fact.camera, cameras)
    if isinstance(fact, Loaded) and fact.roll is None:
        return replace(fact, guessed_roll=guess(conn, fact))
    return fact


def _may_not_clear(conn: Connection, fact: Cleared, around: Around) -> list[Reason]:
    """Why a card may not be cleared at the moment of a clearing, as the facts up to it have it."""
    labels = labels_for(conn, [fact])
    if not labels.known(fact.card):
        # It is said, with all else that is unknown, where labels are looked up.
        return []
    card_id = labels.card_of(fact)
    state = read_state(conn, card_id)
    if state is None:
        return []
    context = around.context
    if mirrors_of(state) or not can_step(state, fact):
        known = journal.facts_of(conn, [card_id])[card_id]
        facts = [f for f in known if isinstance(f, CardFact)]
        context = context_for(conn, {card_id: state}, {card_id: facts}, around)
        until = [f for f in facts if is_void(f) or place(f) <= moment(fact)]
        state = fold(until, context, card_id=card_id)
    return may_clear(state, context, moment(fact))
