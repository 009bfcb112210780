"""The rules of the reminders: pure. A production at a moment goes in, what is due comes out.

A rule looks for conditions: a subject that it speaks of. A condition is due when the rule's time
has gone by, in the hours that it counts. It is only told of then: what people settle in time
nobody is reminded of. What is sent when, and to whom again, stands in `turns.py`.

Every time and every number here is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

from tracker.domain.mishaps import Severity
from tracker.reminders import cards, rolls
from tracker.reminders.day import at_wrap
from tracker.reminders.found import Found, Role
from tracker.reminders.limits import Own
from tracker.reminders.seen import Seen

Counts = Literal["shooting hours", "all hours"]

MANAGER: tuple[Role, ...] = ("data manager",)
HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What people are reminded of.

    who: the roles that are told. finds: what it speaks of, from a production and a moment.
    severity: danger goes at once and at any hour; a warning in working hours; a note waits for
    the morning list. counts: the hours in which `after` goes by until a condition is due. delay:
    from then to the first notice, and repeat: from notice to notice, both by the clock; None is
    never again. on: from the start, or only offered. all_clear: whether its end is told of, which
    is not so of a note, nor of what ends by itself.
    """

    name: str
    who: tuple[Role, ...]
    finds: Callable[[Seen, datetime], Iterator[Found]]
    severity: Severity
    counts: Counts = "all hours"
    after: timedelta = timedelta(0)
    delay: timedelta = timedelta(0)
    repeat: timedelta | None = None
    on: bool = True
    all_clear: bool = True


@dataclass(frozen=True, slots=True)
class Condition:
    """What a rule speaks of, at a moment.

    due: when its time has gone by, or will have; None while that hangs on a call that is yet to
    come. who, person: the roles that are told, and by name whoever promised. may_go: whether now
    is an hour for it. delay, repeat, all_clear: as its rule has them.
    """

    subject: str
    rule: str
    about: str
    unit: str | None
    since: datetime
    due: datetime | None
    who: tuple[Role, ...]
    person: str | None
    severity: Severity
    says: str
    to_do: str
    lines: tuple[str, ...]
    delay: timedelta
    repeat: timedelta | None
    all_clear: bool
    may_go: bool

    @property
    def key(self) -> tuple[str, str]:
        """What makes a condition the same condition."""
        return self.subject, self.rule

    def holds(self, now: datetime) -> bool:
        """Whether its time has come."""
        return self.due is not None and self.due <= now


def due(state: Seen, rule: Rule, now: datetime) -> list[Condition]:
    """Everything that a rule speaks of at a moment, what is due soonest first.

    What is not due yet is among it: `Condition.holds` tells.
    """
    found = []
    for one in rule.finds(state, now):
        own = as_set(rule, state.chosen.of(one.unit).rules.get(rule.name))
        if own.on:
            found.append(_condition(state, own, one, now))
    return sorted(found, key=lambda c: (c.due is None, c.due or now, c.subject))


def everything_due(
    state: Seen, now: datetime, rules: tuple[Rule, ...] | None = None
) -> list[Condition]:
    """What all the rules speak of and what is due, danger first."""
    found = [c for rule in rules or RULES for c in due(state, rule, now) if c.holds(now)]
    return sorted(found, key=lambda c: ("danger", "warning", "note").index(c.severity))


def as_set(rule: Rule, own: Own | None) -> Rule:
    """A rule as a production or a unit has set it."""
    if own is None:
        return rule
    return replace(
        rule,
        on=rule.on if own.on is None else own.on,
        after=rule.after if own.after is None else own.after,
        delay=rule.delay if own.delay is None else own.delay,
        repeat=rule.repeat if own.repeat is None else own.repeat,
    )


def _condition(state: Seen, rule: Rule, one: Found, now: datetime) -> Condition:
    severity = one.severity or rule.severity
    hours = state.hours_for(one.unit)
    return Condition(
        subject=one.subject,
        rule=rule.name,
        about=one.about,
        unit=one.unit,
        since=one.since,
        due=_due(state, rule, one),
        who=one.who or rule.who,
        person=one.person,
        severity=severity,
        says=one.says,
        to_do=one.to_do,
        lines=one.lines,
        delay=rule.delay,
        repeat=rule.repeat,
        all_clear=rule.all_clear and severity != "note",
        may_go=severity == "danger" or hours.at_work(now),
    )


def _due(state: Seen, rule: Rule, one: Found) -> datetime | None:
    """When the time of a rule has gone by."""
    if one.due is not None:
        return one.due
    if rule.counts == "all hours":
        return one.since + rule.after
    hours = state.hours_for(one.unit)
    if one.to_copy:
        return hours.copied_by(one.since, state.chosen.of(one.unit), rule.after)
    return hours.after(one.since, rule.after)


RULES: tuple[Rule, ...] = (
    Rule(
        name="exposed too long",
        who=("loader",),
        finds=cards.exposed,
        severity="warning",
        counts="shooting hours",
        after=2 * HOUR,
        repeat=2 * HOUR,
    ),
    Rule(
        name="cleared and not covered any more",
        who=("data manager", "loader"),
        finds=cards.fallen,
        severity="danger",
        repeat=2 * HOUR,
    ),
    Rule(
        name="copied and not checked",
        who=MANAGER,
        finds=cards.unchecked,
        severity="warning",
        counts="shooting hours",
        after=2 * HOUR,
        repeat=4 * HOUR,
    ),
    Rule(
        name="a roll below the rule",
        who=MANAGER,
        finds=rolls.below,
        severity="danger",
        delay=timedelta(minutes=10),
        repeat=12 * HOUR,
    ),
    Rule(
        name="probably out",
        who=("loader",),
        finds=cards.out_of_camera,
        severity="warning",
        counts="shooting hours",
        after=timedelta(minutes=30),
        repeat=2 * HOUR,
    ),
    Rule(
        name="missing with footage",
        who=("data manager", "loader", "production office"),
        finds=cards.missing,
        severity="danger",
        repeat=12 * HOUR,
    ),
    Rule(name="missing", who=MANAGER, finds=cards.missing_bare, severity="note"),
    Rule(name="at wrap", who=MANAGER, finds=at_wrap, severity="warning", all_clear=False),
    Rule(
        name="off-site copy late",
        who=("data manager", "production office"),
        finds=rolls.off_site,
        severity="warning",
        after=24 * HOUR,
        repeat=24 * HOUR,
    ),
    Rule(
        name="backed up and not cleared",
        who=MANAGER,
        finds=cards.backed_up,
        severity="note",
        after=HOUR,
        on=False,
    ),
    Rule(
        name="cleared and not formatted",
        who=("loader",),
        finds=cards.cleared,
        severity="note",
        after=8 * HOUR,
        on=False,
    ),
    Rule(
        name="copy under way too long",
        who=MANAGER,
        finds=cards.stale_copying,
        severity="warning",
        counts="shooting hours",
        repeat=2 * HOUR,
        on=False,
    ),
    Rule(
        name="an override's promise",
        who=MANAGER,
        finds=rolls.promised,
        severity="danger",
        repeat=2 * HOUR,
        on=False,
    ),
    Rule(
        name="danger not looked at",
        who=MANAGER,
        finds=rolls.not_looked_at,
        severity="danger",
        after=timedelta(minutes=30),
        repeat=12 * HOUR,
        on=False,
    ),
    Rule(
        name="damage not settled",
        who=MANAGER,
        finds=cards.damaged,
        severity="note",
        after=24 * HOUR,
        on=False,
    ),
    Rule(
        name="drive nearly full",
        who=MANAGER,
        finds=rolls.full,
        severity="warning",
        repeat=24 * HOUR,
        on=False,
    ),
)
"""Every rule there is, as it stands until somebody sets it otherwise."""

BY_NAME = {rule.name: rule for rule in RULES}
