"""When a fact really happened, if the clock of the device that sent it was wrong, or it came late.

A device's clock is corrected by its offset at the moment of sending. What it may claim is bounded:
nothing earlier than 7 days before it was last heard of, nothing more than 5 minutes ahead (common
practice, no source). Facts of a history or of another service's journal are never corrected.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

BEFORE_LAST_EXCHANGE = timedelta(days=7)
AHEAD = timedelta(minutes=5)
EARLIEST = datetime(1970, 1, 1, tzinfo=UTC)
"""No journal holds an earlier time."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """A time as it is believed. raw: as the device gave it, if that is another.

    clamped: the device claimed a time that it may not claim, and it was moved.
    """

    occurred_at: datetime
    raw: datetime | None
    clamped: bool


def corrected(
    occurred_at: datetime,
    sent_at: datetime | None,
    now: datetime,
    last_exchange: datetime | None,
) -> Corrected:
    """The time of a fact, corrected and bounded. All times are aware.

    occurred_at, sent_at: by the device's clock; without sent_at its offset is taken as none.
    now: by our clock. last_exchange: when the device was last heard of; None if it never was,
    and then it may claim any time that is over.
    """
    offset = timedelta(0) if sent_at is None else now - sent_at
    believed = occurred_at + offset
    floor = EARLIEST if last_exchange is None else last_exchange - BEFORE_LAST_EXCHANGE
    bounded = min(max(believed, floor), now + AHEAD)
    raw = None if bounded == occurred_at else occurred_at
    return Corrected(bounded, raw, bounded != believed)
