"""The day of a unit, the count of its cards, and what the production sets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from sqlalchemy import Connection, or_, select

from tracker.domain.rule import BackupRule
from tracker.services.acts import Obj, act, act_on, looking_first, obj, say, what_if
from tracker.services.as_drawn import Check
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import tables as t

Rolls = Literal["main", "proxy"]


def call_unit(
    service: Service,
    who: Who,
    unit: str,
    *,
    day_number: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The unit's shooting day began."""
    return act(service, who, "called", at, tap, unit=unit, day_number=day_number)


def wrap_unit(
    service: Service,
    who: Who,
    unit: str,
    *,
    day_number: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The unit's shooting day ended."""
    return act(service, who, "wrapped", at, tap, unit=unit, day_number=day_number)


def commit_plan(
    service: Service,
    who: Who,
    day: date,
    lines: Sequence[Obj],
    *,
    unit: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
    check: Check | None = None,
) -> Logged:
    """Which card goes to which camera on a day. lines: each with at least a card and a camera."""
    return act(
        service, who, "plan_committed", at, tap, check, unit=unit, day=day.isoformat(),
        lines=list(lines),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Count:
    """What a count found, by label.

    not_found: should be there, and was not scanned. unexpected: was scanned, and should be
    elsewhere, or is no card that anybody registered.
    """

    logged: Logged
    not_found: tuple[str, ...]
    unexpected: tuple[str, ...]


def count(
    service: Service,
    who: Who,
    scanned: Sequence[str],
    *,
    unit: str | None = None,
    place: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Count:
    """Cards were counted: what was scanned, against what should be there.

    place: a place (`cart`), or the name of a case; without one the whole pool is counted. Cards
    in a camera cannot be scanned; those and the retired and missing ones are not looked for.
    """
    seen = tuple(dict.fromkeys(scanned))
    with looking_first(service) as conn:
        there = _should_be_there(conn, place)
        not_found = tuple(label for label in there if label not in seen)
        said = obj(
            "counted", unit=unit, place=place, cards=seen, not_found=not_found or None
        )  # fmt: skip
        logged = say(service, conn, who, [said], at, tap)
    return Count(logged, not_found, tuple(label for label in seen if label not in there))


def _should_be_there(conn: Connection, place: str | None) -> list[str]:
    about = t.Card.status.not_in(("loaded", "retired", "missing"))
    asked = select(t.Card.label).where(about, t.Card.camera.is_(None)).order_by(t.Card.label)
    if place is not None:
        asked = asked.where(or_(t.Card.place == place, t.Card.case == place))
    return list(conn.scalars(asked))


def set_rule(
    service: Service,
    who: Who,
    rule: BackupRule,
    *,
    rolls: Rolls = "main",
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The backup rule from now on, for main rolls or for proxies."""
    return act_on(service, who, [_rule(rule, rolls)], at, tap)


def would_change(
    service: Service, rule: BackupRule, *, rolls: Rolls = "main"
) -> tuple[list[str], list[str]]:
    """The names of the rolls that would fall below another rule, and that would be covered.

    To be asked before `set_rule`.
    """
    return what_if(service, _rule(rule, rolls))


def _rule(rule: BackupRule, rolls: Rolls) -> Obj:
    return obj(
        "rule_set", copies=rule.copies, level=rule.level, kinds=rule.kinds,
        off_site=rule.off_site, receipt=rule.receipt, hold_days=rule.hold_days, rolls=rolls,
    )  # fmt: skip


def set_camera(
    service: Service,
    who: Who,
    letters: str,
    unit: str,
    *,
    slots: int = 1,
    at: datetime | None = None,
    tap: str | None = None,
    **more: Any,
) -> Logged:
    """A camera as it stands from now on. more: the other fields of `camera_set`."""
    return act(service, who, "camera_set", at, tap, letters=letters, unit=unit, slots=slots, **more)
