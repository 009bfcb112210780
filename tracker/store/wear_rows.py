"""What the pages on wear and rotation read: what was written to each card, and where it was."""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, datetime
from typing import Any

import msgspec
from sqlalchemy import BigInteger, Connection, Row, and_, case, func, not_, or_, select, type_coerce

from tracker.store import tables as t
from tracker.store.types import moment_text

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DAY = 86_400 * 10**6
"""By which moments are kept too late, so that none is before 1970: see `store.types`."""


class Rated(msgspec.Struct):
    """As a card was registered. endurance_tb: terabytes that may be written to it."""

    maker_model: str | None = None
    endurance_tb: float | None = None


class Health(msgspec.Struct):
    """What a health tool said of a card last."""

    occurred_at: datetime
    tool: str
    host_bytes_written: int | None = None
    wear_percent: float | None = None


class Damage(msgspec.Struct):
    """A damage, by the id of the fact."""

    id: str


class Kept(msgspec.Struct):
    """What wear needs of a card's kept state; the rest of it is passed over."""

    registered: Rated | None = None
    health: Health | None = None
    damage: tuple[Damage, ...] = ()
    damage_settled: tuple[str, ...] = ()


_kept = msgspec.json.Decoder(Kept)


def cards(conn: Connection) -> list[tuple[Any, Kept]]:
    """The cards of the pool, by label, with what is kept of each; visiting cards are not ours."""
    asked = select(
        t.Card.id, t.Card.label, t.Card.status, t.Card.media, t.Card.capacity_bytes, t.Card.state
    )
    ours = asked.where(not_(t.Card.visiting)).order_by(t.Card.label, t.Card.id)
    return [(row, _kept.decode(row.state)) for row in conn.execute(ours)]


def written(conn: Connection) -> dict[str, Row[Any]]:
    """By card: rolls that came out of a camera, bytes in those of known size, those of unknown."""
    unsized = case((and_(t.Roll.size.is_(None), not_(t.Roll.empty)), 1), else_=0)
    asked = (
        select(
            t.Roll.card,
            func.count().label("rolls"),
            func.coalesce(func.sum(t.Roll.size), 0).label("bytes"),
            func.sum(unsized).label("unsized"),
        )
        .where(t.Roll.closed)
        .group_by(t.Roll.card)
    )
    return {row.card: row for row in conn.execute(asked)}


def sizes(conn: Connection, card_ids: Collection[str]) -> list[Row[Any]]:
    """The rolls of known size of some cards, each with when it came out of the camera."""
    asked = select(t.Roll.card, t.Roll.closed_at, t.Roll.size.label("size")).where(
        t.Roll.closed, t.Roll.size.is_not(None), t.Roll.card.in_(list(card_ids))
    )
    return list(conn.execute(asked))


def mishaps(conn: Connection) -> dict[str, int]:
    """By card, how many mishaps stand."""
    asked = select(t.Mishap.card, func.count().label("count")).where(t.Mishap.settled_by.is_(None))
    return {row[0]: row[1] for row in conn.execute(asked.group_by(t.Mishap.card))}


def rolls_between(conn: Connection, since: datetime, until: datetime) -> list[Row[Any]]:
    """Every roll that was, or may have been, on a card between two times, by card.

    opened, closed: microseconds since 1970, None where unknown; wiped: see `wiped_at`.
    """
    endangered = case((t.Roll.wiped.is_(None), not_(t.Roll.covered)),
                      else_=not_(t.Roll.covered_when_wiped))  # fmt: skip
    asked = (
        select(
            t.Card.label, t.Roll.name, t.Roll.camera,
            type_coerce(t.Roll.opened_at, BigInteger).label("opened"),
            case((t.Roll.closed, type_coerce(t.Roll.closed_at, BigInteger))).label("closed"),
            t.Roll.wiped, and_(t.Roll.owes, endangered).label("endangered"),
        )
        .join(t.Card, t.Card.id == t.Roll.card)
        .where(
            or_(t.Roll.opened_at.is_(None), t.Roll.opened_at < until),
            not_(t.Card.visiting),
            or_(t.Roll.wiped.is_(None), t.Roll.wiped >= moment_text((since, _EPOCH, "", ""))),
        )
        .order_by(t.Card.label, t.Roll.card, t.Roll.position)
    )  # fmt: skip
    return list(conn.execute(asked))


def first_opened(conn: Connection) -> datetime | None:
    """When the first roll that is known was begun."""
    found: datetime | None = conn.scalar(select(func.min(t.Roll.opened_at)))
    return found


def wiped_at(kept: str | None) -> int | None:
    """When a roll went from its card, in microseconds since 1970; None while it is there."""
    if not kept or not kept[:17].isdigit():
        return None
    return int(kept[:17]) - _DAY
