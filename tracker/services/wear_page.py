"""What was written to each card, and how worn it is, as the production office looks at it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tracker.planning.wear import Wear, Written, carry, gini, wear_of
from tracker.services.service import Service
from tracker.store import wear_rows


@dataclass(frozen=True, slots=True)
class Worn:
    """A card of the pool. read_at: when a tool last read its health; None if never."""

    label: str
    status: str
    media: str | None
    maker_model: str | None
    wear: Wear
    damage: int
    mishaps: int
    tool: str | None
    read_at: datetime | None


def cards_worn(service: Service) -> list[Worn]:
    """Every card of the pool but visiting ones, written to most first."""
    with service.store.reading() as conn:
        cards = wear_rows.cards(conn)
        rolls = wear_rows.written(conn)
        mishaps = wear_rows.mishaps(conn)
        read = {row.id: kept.health for row, kept in cards if _counter(kept) is not None}
        since = dict.fromkeys(read, 0)
        for one in wear_rows.sizes(conn, read):
            health = read[one.card]
            if health is not None and (one.closed_at or health.occurred_at) > health.occurred_at:
                since[one.card] += one.size
    found = [
        _worn(row, kept, rolls.get(row.id), since.get(row.id, 0), mishaps.get(row.id, 0))
        for row, kept in cards
    ]
    return sorted(found, key=lambda one: (-one.wear.bytes, one.label))


def _counter(kept: wear_rows.Kept) -> int | None:
    return None if kept.health is None else kept.health.host_bytes_written


def _worn(row: Any, kept: wear_rows.Kept, rolls: Any, since: int, mishaps: int) -> Worn:
    health, rated = kept.health, kept.registered
    own = None if health is None else health.wear_percent
    written = Written(
        row.label,
        row.capacity_bytes,
        in_rolls=int(rolls.bytes) if rolls else 0,
        rolls=rolls.rolls if rolls else 0,
        unsized=int(rolls.unsized) if rolls else 0,
        endurance_tb=None if rated is None else rated.endurance_tb,
        counter=_counter(kept),
        since_counter=since,
        own_wear=None if own is None else own / 100,
    )
    return Worn(
        row.label,
        row.status,
        row.media,
        None if rated is None else rated.maker_model,
        wear_of(written),
        sum(one.id not in kept.damage_settled for one in kept.damage),
        mishaps,
        None if health is None else health.tool,
        None if health is None else health.occurred_at,
    )


def logged_sizes(cards: Sequence[Worn]) -> list[int]:
    """Bytes in the rolls of each card: what counters say of a life before is not our use of it."""
    return [one.wear.card.in_rolls for one in in_use(cards)]


def in_use(cards: Sequence[Worn]) -> list[Worn]:
    """Cards that are not out of the pool for good."""
    return [one for one in cards if one.status != "retired"]


def reading_of_writes(cards: Sequence[Worn]) -> str:
    """What the writes of all cards say today."""
    sizes = logged_sizes(cards)
    few, spread = carry(sizes), gini(sizes)
    if few is None or spread is None:
        return "Nothing of known size was shot on any card yet."
    cards_say = "1 card carries" if few == 1 else f"{few} cards carry"
    return (
        f"{cards_say} half of all that was shot here, of {len(sizes)} in the pool. Evenness of use "
        f"(Gini): {float(spread):.2f}, where 0 is all cards alike and 1 is one card alone."
    )


def reading_of_wear(cards: Sequence[Worn]) -> str:
    """What is known of the wear of all cards today."""
    pool = in_use(cards)
    known = [(one.wear.wear, one.label) for one in pool if one.wear.wear is not None]
    unknown = len(pool) - len(known)
    if not known:
        return "Wear is unknown for every card: nobody said what one is rated for."
    most, label = max(known)
    says = f"{label} is worn most: {most:.1%} of what it is rated for."
    return says if not unknown else f"{says} Wear is unknown for {unknown} of {len(pool)} cards."
