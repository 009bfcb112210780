"""What pages and commands read: from the rows, in a few statements, however long the journal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    and_,
    case,
    func,
    not_,
    or_,
    select,
    true,
)

from tracker.store import tables as t
from tracker.store.rows import table


@dataclass(frozen=True, slots=True)
class Standing:
    """A mishap that stands, with the names that people know."""

    card: str
    kind: str
    roll: str | None
    drive: str | None
    fact: str
    severity: str


def below_rule() -> ColumnElement[bool]:
    """Whether a roll is out of the camera and below the backup rule, on a card or not."""
    return and_(t.Roll.closed, not_(t.Roll.covered))


def still_there() -> ColumnElement[bool]:
    """Whether a copy was not gone with all else on its drive."""
    return or_(t.Drive.emptied.is_(None), t.Copy.finished > t.Drive.emptied)


def cards(conn: Connection) -> list[Row[Any]]:
    """Every card as it stands, by label, with its cycles and the bytes of its closed rolls."""
    added = (
        select(
            t.Roll.card.label("card"),
            func.coalesce(func.sum(t.Roll.size), 0).label("bytes_logged"),
            func.sum(case((t.Roll.empty, 0), else_=1)).label("cycles"),
        )
        .where(t.Roll.closed)
        .group_by(t.Roll.card)
        .subquery()
    )
    asked = (
        select(
            t.Card.id, t.Card.label, t.Card.status, t.Card.camera, t.Card.holds, t.Card.uncovered,
            t.Card.next, t.Card.who, t.Card.rank, t.Card.may_format, t.Card.since,
            func.coalesce(added.c.cycles, 0).label("cycles"),
            func.coalesce(added.c.bytes_logged, 0).label("bytes_logged"),
        )
        .outerjoin(added, added.c.card == t.Card.id)
        .order_by(t.Card.label, t.Card.id)
    )  # fmt: skip
    return list(conn.execute(asked))


def mishaps(conn: Connection) -> list[Standing]:
    """Every mishap that stands, by card, kind and roll."""
    made = (
        select(
            t.Card.label, t.Mishap.kind, t.Roll.name, t.Mishap.drive, t.Mishap.fact,
            t.Mishap.severity,
        )
        .join(t.Card, t.Card.id == t.Mishap.card)
        .outerjoin(t.Roll, t.Roll.id == t.Mishap.roll)
        .where(t.Mishap.settled_by.is_(None))
    )  # fmt: skip
    found = [
        Standing(label, kind, name, drive or None, fact, severity)
        for label, kind, name, drive, fact, severity in conn.execute(made)
    ]
    found += [
        Standing(label, "covered_no_more", name, None, fact or "", "danger")
        for label, name, fact in conn.execute(_covered_no_more())
    ]
    return sorted(found, key=lambda m: (m.card, m.kind, m.roll or "", m.fact, m.drive or ""))


def _covered_no_more() -> Any:
    """Rolls that were covered when they were wiped, and are not now: asked, never kept."""
    return (
        select(t.Card.label, t.Roll.name, t.Roll.wiped_by)
        .join(t.Card, t.Card.id == t.Roll.card)
        .where(
            and_(t.Roll.covered_when_wiped, not_(t.Roll.covered), not_(t.Roll.loss_settled)),
            t.Roll.wiped.is_not(None),
        )
    )


def below(conn: Connection) -> list[str]:
    """The names of all closed rolls that are below the backup rule, on a card or not."""
    asked = select(t.Roll.name).where(below_rule())
    return sorted(conn.scalars(asked))


def rolls_named(conn: Connection, name: str) -> list[Row[Any]]:
    """The rolls that answer to a name, the one opened last first."""
    escaped = name.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    named = t.Roll.names.like(f"%\n{escaped}\n%", escape="\\")
    return list(conn.execute(_rolls().where(named).order_by(t.Roll.opened_at.desc())))


def rolls(conn: Connection) -> list[Row[Any]]:
    """Every roll, by name, the one opened last first."""
    asked = _rolls().order_by(t.Roll.name, t.Roll.opened_at.desc(), t.Roll.id)
    return list(conn.execute(asked))


def _rolls() -> Select[*tuple[Any, ...]]:
    return (
        select(
            t.Roll.id, t.Roll.name, t.Roll.names, t.Card.label, t.Roll.held, t.Roll.covered,
            t.Roll.closed, t.Roll.owes, t.Roll.size, t.Roll.clips, t.Roll.opened_at,
            t.Roll.closed_at, t.Roll.loaded_as, t.Roll.camera, t.Roll.verdict,
        )
        .join(t.Card, t.Card.id == t.Roll.card)
    )  # fmt: skip


def copies_of(conn: Connection, roll_id: str) -> list[Row[Any]]:
    """The finished copies of a roll, each with its drive as that stands."""
    return list(conn.execute(_copies().where(t.Copy.roll == roll_id)))


def copies(conn: Connection) -> list[Row[Any]]:
    """The finished copies of every roll, each with its drive as that stands."""
    return list(conn.execute(_copies()))


def _copies() -> Select[*tuple[Any, ...]]:
    return (
        select(
            t.Copy.roll, t.Copy.drive, t.Copy.rank, t.Copy.sound, t.Copy.size, t.Copy.clips,
            t.Copy.made_from, t.Copy.finished_at, t.Drive.place, t.Drive.holder,
            t.Drive.usable, t.Drive.kind,
            (t.Drive.emptied.is_not(None) & (t.Drive.emptied > t.Copy.finished)).label("gone"),
        )
        .join(t.Drive, t.Drive.label == t.Copy.drive)
        .order_by(t.Copy.finished)
    )  # fmt: skip


def drive(conn: Connection, label: str) -> Row[Any] | None:
    """A drive as it stands, with the rolls and the bytes that are on it, as far as is known."""
    there = (
        select(
            func.count(t.Copy.roll).label("rolls"),
            func.coalesce(func.sum(func.coalesce(t.Copy.size, t.Roll.size)), 0).label("bytes"),
        )
        .join(t.Roll, t.Roll.id == t.Copy.roll)
        .join(t.Drive, t.Drive.label == t.Copy.drive)
        .where(t.Copy.drive == label, still_there())
        .subquery()
    )
    asked = (
        select(table(t.Drive), there.c.rolls, there.c.bytes)
        .join(there, true())
        .where(t.Drive.label == label)
    )
    return conn.execute(asked).one_or_none()


def rolls_on(conn: Connection, label: str) -> list[Row[Any]]:
    """The rolls on a drive, with their check level and whether they meet the rule."""
    asked = (
        select(t.Roll.name, t.Card.label, t.Copy.rank, t.Copy.sound, t.Copy.size, t.Roll.covered)
        .select_from(t.Copy)
        .join(t.Roll, t.Roll.id == t.Copy.roll)
        .join(t.Card, t.Card.id == t.Roll.card)
        .join(t.Drive, t.Drive.label == t.Copy.drive)
        .where(t.Copy.drive == label, still_there())
        .order_by(t.Roll.name)
    )
    return list(conn.execute(asked))


def drive_labels(conn: Connection) -> list[str]:
    """Every drive's label."""
    return list(conn.scalars(select(t.Drive.label).order_by(t.Drive.label)))
