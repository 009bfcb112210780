"""May it be formatted: clearing a card, with the rule or against it, and rolls that owe nothing."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from sqlalchemy import Connection, select

from tracker.domain.permissions import may_clear
from tracker.services.acts import act, act_on, obj
from tracker.services.errors import Refused
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import tables as t
from tracker.store.projection import read_state

NO_OVERRIDE = ("visiting", "unseen")
"""Why a card may not be cleared, whoever authorises it."""


def clear(
    service: Service,
    who: Who,
    card: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The card may be formatted, in the camera.

    Errors: Refused, if the backup rule is not met: each reason says what would settle it.
    """
    return act(service, who, "cleared", at, tap, card=card)


def clear_against_the_rule(
    service: Service,
    who: Who,
    card: str,
    *,
    override_reason: str,
    authorised_by: str,
    promise: str,
    promise_by: str,
    promise_until: datetime,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The card may be formatted though the backup rule is not met. It makes a mishap.

    authorised_by: the second person, by name. promise: what will be done, by whom and until when.
    Errors: Refused, for a card that is somebody else's, or that nobody has looked at: no clearing
    counts there.
    """
    said = obj(
        "cleared", card=card, override_reason=override_reason, authorised_by=authorised_by,
        promise=promise, promise_by=promise_by, promise_until=promise_until,
    )  # fmt: skip
    return act_on(service, who, [said], at, tap, lambda conn: _refuse(service, conn, card))


def _refuse(service: Service, conn: Connection, card: str) -> None:
    """Errors: Refused, where not even an override counts."""
    card_id = conn.scalar(select(t.Card.id).where(t.Card.label == card))
    state = None if card_id is None else read_state(conn, card_id)
    if state is None:
        # That there is no such card is said where its label is looked up.
        return
    said = may_clear(state, service.around(conn).context)
    reasons = [reason for reason in said if reason.code in NO_OVERRIDE]
    if reasons:
        raise Refused(card, reasons)


def withdraw_clearing(
    service: Service,
    who: Who,
    card: str,
    reason: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The clearing no longer holds."""
    return act(service, who, "clearing_withdrawn", at, tap, card=card, reason=reason)


def declare_empty(
    service: Service,
    who: Who,
    card: str,
    roll: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Nothing was shot on a roll: it owes nothing."""
    return act(service, who, "declared_empty", at, tap, card=card, roll=roll)


def write_off(
    service: Service,
    who: Who,
    card: str,
    roll: str,
    *,
    authorised_by: str,
    reason: str,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A roll need not be kept (camera test, false start)."""
    return act(
        service, who, "written_off", at, tap, card=card, roll=roll,
        authorised_by=authorised_by, reason=reason,
    )  # fmt: skip


def received(
    service: Service,
    who: Who,
    card: str,
    roll: str,
    received_from: str,
    verdict: Literal["good", "bad"],
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Post has looked at a roll. received_from: who in post says so."""
    return act(
        service, who, "received", at, tap, card=card, roll=roll, received_from=received_from,
        verdict=verdict, text=text,
    )  # fmt: skip
