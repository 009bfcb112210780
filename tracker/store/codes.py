"""The short codes as they are kept: once allotted, a code is never another card's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, insert, select

from tracker.domain.codes import NUMBERS, code_of, nth_number
from tracker.store import tables as t
from tracker.store.kept_tables import ShortCode

CODED = ("card", "drive")
"""The kinds of subjects that have a code."""


def allot(conn: Connection, subjects: Iterable[str]) -> None:
    """Give each subject that has none a code. The production's row is locked meanwhile.

    With all numbers given away, the rest go without.
    """
    wanted = dict.fromkeys(subjects)
    rows = conn.execute(select(ShortCode.number, ShortCode.subject)).all() if wanted else []
    taken = {row.number for row in rows}
    has = {row.subject for row in rows}
    fresh = [subject for subject in wanted if subject not in has]
    numbers = (n for n in map(nth_number, range(len(taken), len(taken) + NUMBERS)))
    free = (number for number in numbers if number not in taken)
    made = [{"number": n, "subject": s} for s, n in zip(fresh, free, strict=False)]
    if made:
        conn.execute(insert(ShortCode), made)


def spelled(number: int | None) -> str | None:
    """The code that says a number; None where there is none."""
    return None if number is None else code_of(number)


def without(conn: Connection) -> Sequence[str]:
    """The subjects that should have a code and have none, by id."""
    asked = (
        select(t.Subject.id)
        .outerjoin(ShortCode, ShortCode.subject == t.Subject.id)
        .where(t.Subject.kind.in_(CODED), ShortCode.number.is_(None))
        .order_by(t.Subject.id)
    )
    return conn.scalars(asked).all()


def subject_of(conn: Connection, number: int) -> str | None:
    """Whose code says a number; None if it is nobody's."""
    return conn.scalar(select(ShortCode.subject).where(ShortCode.number == number))


def number_for(conn: Connection, subject: str) -> int | None:
    """The number of a subject's code; None if it has none."""
    return conn.scalar(select(ShortCode.number).where(ShortCode.subject == subject))


def numbers_for(conn: Connection, subjects: Sequence[str]) -> dict[str, int]:
    """The numbers of several subjects' codes, by subject."""
    asked = select(ShortCode.subject, ShortCode.number).where(ShortCode.subject.in_(subjects))
    return {row.subject: row.number for row in conn.execute(asked)}


def numbers_by_label(conn: Connection) -> dict[str, int]:
    """The number of every card's code that has one, by the label that the card has now."""
    asked = select(t.Card.label, ShortCode.number).join(ShortCode, ShortCode.subject == t.Card.id)
    return {row.label: row.number for row in conn.execute(asked)}


def label_of(conn: Connection, card_id: str) -> str | None:
    """The label of a card; None if it is here no more."""
    return conn.scalar(select(t.Card.label).where(t.Card.id == card_id))


def card_of(conn: Connection, label: str) -> str | None:
    """The id of the card that has a label now; None if none has."""
    return conn.scalar(select(t.Card.id).where(t.Card.label == label))


def drive_of(conn: Connection, label: str) -> str | None:
    """The label of the drive that has it; None if none has."""
    return conn.scalar(select(t.Drive.label).where(t.Drive.label == label))
