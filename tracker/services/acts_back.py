"""Taking back what was a mistake: it is voided by a later fact, and stays readable."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from sqlalchemy import Connection, delete, or_, select

from tracker.domain.errors import CardwrightError, LabelInUse
from tracker.domain.facts import DriveRegistered, Fact, Registered, Relabelled
from tracker.domain.voids import in_use_again, is_void, voided_by
from tracker.services.acts import Obj, beside, kept_fact, looking_first, obj, say
from tracker.services.errors import Conflict
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import journal
from tracker.store import tables as t
from tracker.store.labels import naming_facts
from tracker.store.types import to_microseconds

LOOKS_BACK = 2_000
"""Facts of everybody, among which somebody's last is looked for."""

ONE_TAP = timedelta(seconds=1)
"""The facts of one tap are logged within this time, one microsecond after the other."""

A_SLIP = "taken back"

ANOTHER_SINCE = (
    "it is not your last tap any more. Nothing was taken back: look at what you logged since, or "
    "take this one back in the history of its card or drive."
)


class CannotTakeBack(CardwrightError):
    """A fact that cannot be taken back. fact: its id, None if there is none. why: what to do."""

    def __init__(self, fact: str | None, why: str) -> None:
        self.fact = fact
        self.why = why
        super().__init__(f"This cannot be taken back: {why}")


def take_back(
    service: Service, who: Who, fact: str, reason: str = A_SLIP, *, tap: str | None = None
) -> Logged:
    """A fact was a mistake. fact: its id; that of a taking back restores what that took back.

    It has no time of its own: what is taken back never counted. Errors: CannotTakeBack.
    """
    with looking_first(service) as conn:
        if (again := _said_again(conn, tap)) is not None:
            return again
        return _log(service, conn, who, [fact.lower()], reason, tap)


def take_back_last(
    service: Service,
    who: Who,
    reason: str = A_SLIP,
    *,
    shown: str | None = None,
    tap: str | None = None,
) -> Logged:
    """The last tap of this person that still counts was a mistake, with all its facts.

    shown: the id of a fact of the tap that a page showed. If it is not of the last one any more,
    nothing is taken back. Errors: CannotTakeBack.
    """
    with looking_first(service) as conn:
        if (again := _said_again(conn, tap)) is not None:
            return again
        facts = _last_tap(conn, who)
        if not facts:
            raise CannotTakeBack(None, "nothing that you logged lately still counts.")
        if shown is not None and shown.lower() not in {fact.id for fact in facts}:
            raise CannotTakeBack(None, ANOTHER_SINCE)
        return _log(service, conn, who, [fact.id for fact in facts], reason, tap)


def my_last(service: Service, who: Who) -> list[Fact]:
    """The facts of this person's last tap that still count, the latest first."""
    with service.store.reading() as conn:
        return _last_tap(conn, who)


def _said_again(conn: Connection, tap: str | None) -> Logged | None:
    kept = None if tap is None else kept_fact(conn, tap)
    if tap is None or kept is None:
        return None
    if kept.event != "voided":
        raise Conflict(tap)
    return Logged(again=[tap])


def _log(
    service: Service,
    conn: Connection,
    who: Who,
    facts: Sequence[str],
    reason: str,
    tap: str | None,
) -> Logged:
    objs = [_void(conn, fact, reason) for fact in facts]
    try:
        return say(service, conn, who, objs, None, tap)
    except LabelInUse as error:
        why = f"the label {error.label} is on another card since: relabel one of them."
        raise CannotTakeBack(facts[0], why) from None


# What may be taken back


def _void(conn: Connection, fact_id: str, reason: str) -> Obj:
    kept = kept_fact(conn, fact_id)
    if kept is None:
        raise CannotTakeBack(None, f"there is no fact with the id {fact_id}.")
    facts = journal.facts_of(conn, [kept.subject])[kept.subject]
    fact = next(one for one in facts if one.id == fact_id)
    if fact_id in voided_by(facts):
        raise CannotTakeBack(fact_id, "it was taken back already.")
    _may_go(conn, fact, facts, kept.subject)
    return obj("voided", target=fact_id, reason=reason, **_named(conn, fact, kept.subject))


def _named(conn: Connection, fact: Fact, subject: str) -> dict[str, str]:
    """The subject as a sender names it: a card by the label that it has now."""
    kind = journal.subject_kind(fact)
    if kind == journal.PRODUCTION:
        return {}
    if kind != "card":
        return {kind: getattr(fact, kind)}
    label = conn.scalar(select(t.Card.label).where(t.Card.id == subject))
    # A card whose registration was taken back has no label: it is named as by that fact.
    return {"card": getattr(fact, "card", "") if label is None else label}


def _may_go(conn: Connection, fact: Fact, facts: Sequence[Fact], subject: str) -> None:
    """Errors: CannotTakeBack for what other facts rest on."""
    if isinstance(fact, Registered | DriveRegistered):
        gone = voided_by(facts)
        used = any(f.id != fact.id and f.id not in gone and not is_void(f) for f in facts)
        if isinstance(fact, DriveRegistered):
            used = used or _has_copies(conn, fact.drive)
            conn.execute(delete(t.TodaysDrive).where(t.TodaysDrive.drive == fact.drive))
        if used:
            name = fact.drive if isinstance(fact, DriveRegistered) else fact.card
            why = f"{name} is in use: other facts rest on its registration. Take those back first."
            raise CannotTakeBack(fact.id, why)
    if isinstance(fact, Relabelled) and _used_again(conn, fact, subject):
        why = f"the label {fact.card} is used again since. Give this card a new label instead."
        raise CannotTakeBack(fact.id, why)


def _used_again(conn: Connection, fact: Relabelled, subject: str) -> bool:
    """Whether the old label was given to another card since."""
    if fact.id in in_use_again(naming for _, naming in naming_facts(conn)):
        return True
    since = to_microseconds(fact.occurred_at)
    later = or_(t.Label.until.is_(None), t.Label.until > since)
    other = select(t.Label.card).where(t.Label.label == fact.card, t.Label.card != subject, later)
    return conn.scalar(other.limit(1)) is not None


def _has_copies(conn: Connection, drive: str) -> bool:
    return conn.scalar(select(t.Use.card).where(t.Use.drive == drive).limit(1)) is not None


# The last tap


def _last_tap(conn: Connection, who: Who) -> list[Fact]:
    if who.by is None:
        return []
    asked = (
        select(t.Entry.fact_id, t.Entry.subject, t.Entry.occurred_at, t.Entry.logged_at,
               t.Entry.body)
        .where(t.Entry.event != "voided")
        .order_by(t.Entry.logged_at.desc())
        .limit(LOOKS_BACK)
    )  # fmt: skip
    mine = [row for row in conn.execute(asked) if json.loads(row.body).get("by") == who.by]
    for last in mine:
        if _standing(conn, last) is not None:
            found = [_standing(conn, row) for row in _same_tap(last, mine)]
            return [fact for fact in found if fact is not None]
    return []


def _standing(conn: Connection, row: Any) -> Fact | None:
    """The fact, if nobody took it back."""
    facts = journal.facts_of(conn, [row.subject])[row.subject]
    if row.fact_id in voided_by(facts):
        return None
    return next(fact for fact in facts if fact.id == row.fact_id)


def _same_tap(last: Any, mine: Sequence[Any]) -> list[Any]:
    """The facts of the tap to which one belongs: their ids follow from that of the tap."""
    near = [
        row
        for row in mine
        if row.occurred_at == last.occurred_at and abs(row.logged_at - last.logged_at) < ONE_TAP
    ]
    heads = [row.fact_id for row in near if row is not last]
    for head in [*heads, last.fact_id]:
        ids = {head, *(beside(head, number) for number in range(len(near)))}
        if last.fact_id in ids:
            return [row for row in near if row.fact_id in ids]
    return [last]
