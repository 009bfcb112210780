"""What went wrong and still stands, and the rolls below the backup rule: read from the rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from tracker.domain.counting import why_not
from tracker.domain.dangers import Danger, promised
from tracker.domain.facts import END, LEVELS, Moment
from tracker.domain.mishaps import KINDS, SEVERITIES, Mishap, MishapKey, Severity
from tracker.domain.rolls import Roll
from tracker.domain.rule import Context, in_words, rank
from tracker.services.service import Service
from tracker.store import journal, now_lists
from tracker.store.states import read_roll

_WORST_FIRST = {kind: number for number, kind in enumerate(KINDS)}
_GONE = ("missing", "set aside", "retired")


def every_mishap(service: Service) -> dict[Severity, list[Danger]]:
    """Every mishap that stands, by severity, taken together by card and roll."""
    with service.store.reading() as conn:
        return mishaps(conn)


def mishaps(conn: Connection) -> dict[Severity, list[Danger]]:
    """Every mishap that stands, by severity, taken together by card and roll.

    As `tracker.domain.dangers.dangers` has it, but from the rows.
    """
    together: dict[tuple[Severity, str, str], list[Any]] = {}
    for row in now_lists.standing(conn):
        severity = KINDS[row.kind].severity
        together.setdefault((severity, row.label, row.roll), []).append(row)
    found: dict[Severity, list[Danger]] = {word: [] for word in SEVERITIES}
    lost = {row.id: row for row in now_lists.covered_no_more(conn)}
    for (severity, label, roll), rows in together.items():
        made = [(Mishap(_key(row)), _moment(row)) for row in rows]
        if severity == "danger" and roll in lost:
            made.append(_no_more(lost.pop(roll)))
        found[severity].append(_danger(label, rows[0].name, made, _covered(rows[0])))
    for row in lost.values():
        found["danger"].append(_danger(row.label, row.name, [_no_more(row)], covered=False))
    found["danger"] = _with_promises(conn, found["danger"])
    for same in found.values():
        same.sort(key=lambda danger: (danger.rank, danger.at, danger.card))
    return found


def _with_promises(conn: Connection, found: list[Danger]) -> list[Danger]:
    """The same, with what was promised where a card was cleared against the rule."""
    kind = "cleared_by_override"
    wanted = {m.key.fact for one in found for m in one.mishaps if m.key.kind == kind}
    facts = {fact.id: fact for _, fact in journal.facts_by_id(conn, wanted)} if wanted else {}
    return [
        replace(one, promise=promised(facts.get(m.key.fact) for m in one.mishaps)) if facts else one
        for one in found
    ]


def _key(row: Any) -> MishapKey:
    return MishapKey(row.fact, row.kind, row.roll or None, row.drive or None)


def _moment(row: Any) -> Moment:
    """When the fact that made it happened; END for one that is not known."""
    if row.occurred_at is None:
        return END
    fact = row.wiped_by if hasattr(row, "wiped_by") else row.fact
    return (row.occurred_at, row.logged_at, row.origin, fact)


def _no_more(row: Any) -> tuple[Mishap, Moment]:
    return Mishap(MishapKey(row.wiped_by, "covered_no_more", row.id)), _moment(row)


def _covered(row: Any) -> bool | None:
    if row.name is None:
        return None
    if row.closed:
        return bool(row.covered)
    return False if row.held and row.status in _GONE else None


def _danger(
    label: str, roll: str | None, made: list[tuple[Mishap, Moment]], covered: bool | None
) -> Danger:
    made.sort(key=lambda one: _WORST_FIRST[one[0].key.kind])
    at = min(moment for _, moment in made)
    return Danger(label, roll, tuple(mishap for mishap, _ in made), covered, at)


@dataclass(frozen=True, slots=True)
class CopyThere:
    """A copy of a roll. level: None where none stands. why: why it does not count; None if so."""

    drive: str
    level: str | None
    place: str
    why: str | None


@dataclass(frozen=True, slots=True)
class Below:
    """A roll below the backup rule. held: still on its card. bytes: None is unknown."""

    roll: str
    card: str
    status: str
    held: bool
    camera: str | None
    closed_at: datetime | None
    bytes: int | None
    copies: tuple[CopyThere, ...]


def below(service: Service) -> tuple[list[Below], str]:
    """The rolls below the backup rule with their copies, and the rule in words."""
    with service.store.reading() as conn:
        context = service.around(conn).context
        rolls = [_below(row, context) for row in now_lists.below(conn)]
    return rolls, in_words(context.rules.main)


def _below(row: Any, context: Context) -> Below:
    return Below(
        row.name, row.label, row.status, row.held, row.camera, row.closed_at, row.bytes,
        copies_of(read_roll(row.state), context),
    )  # fmt: skip


def copies_of(roll: Roll, context: Context) -> tuple[CopyThere, ...]:
    """The copies of a roll as they stand now, those that count first."""
    copies = []
    for copy in roll.copies.values():
        finish = None if copy.finish is None else roll.finishes[copy.finish]
        level = None if finish is None else LEVELS[rank(finish, roll, context, END)]
        place = context.drives[copy.drive].at(END).where
        copies.append(CopyThere(copy.drive, level, place, why_not(copy, roll, context, END)))
    return tuple(sorted(copies, key=lambda copy: (copy.why is not None, copy.drive)))
