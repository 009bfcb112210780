"""How much data comes out of the cameras a day, what it fills, and what was bought for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from tracker.domain.calendar import day_by_the_clock
from tracker.domain.sizes import show_bytes
from tracker.services.drives_page import Shown, every_drive
from tracker.services.production import about
from tracker.services.service import Service
from tracker.store import data_rows
from tracker.store.types import from_microseconds

MINUTE = 60 * 10**6
"""In microseconds."""


@dataclass(frozen=True, slots=True)
class DayOfCamera:
    """What came out of one camera on one day. unit, camera: None where nobody said.

    unsized: rolls of unknown size, which are in no sum.
    """

    day: date
    unit: str | None
    camera: str | None
    bytes: int
    rolls: int
    unsized: int

    @property
    def known(self) -> int | None:
        """Bytes; None where of no roll anybody knows how large it is."""
        return None if self.unsized == self.rolls else self.bytes


@dataclass(frozen=True, slots=True)
class Grown:
    """Up to the end of a day: bytes copied to drives, and bytes of drives that were delivered."""

    day: date
    copied: int
    delivered: int


@dataclass(frozen=True, slots=True)
class DataSeen:
    """What the page on data shows. grown: only days on which something changed."""

    days: list[DayOfCamera]
    drives: list[Shown]
    grown: list[Grown]


def data_seen(service: Service) -> DataSeen:
    """All data of the production, by the days of its clock."""
    production = about(service)
    # Clocks differ by whole quarters of an hour; where a day starts, it may be any minute.
    step = MINUTE if production.day_starts.minute % 15 else 15 * MINUTE

    def day_of(at: int) -> date:
        when = from_microseconds(at * step)
        return day_by_the_clock(when, production.zone, production.day_starts)

    with service.store.reading() as conn:
        rolls = data_rows.rolls_out(conn, step)
        copies = data_rows.copies_made(conn, step)
        delivered = data_rows.drives_delivered(conn)

    held: dict[tuple[date, str | None, str | None], list[int]] = {}
    for row in rolls:
        sums = held.setdefault((day_of(row.at), row.unit, row.camera), [0, 0, 0])
        for column, count in enumerate((row.size, row.rolls, row.unsized)):
            sums[column] += int(count)
    order = sorted(held, key=lambda key: (key[0], key[1] or "", key[2] or ""))
    days = [DayOfCamera(*key, *held[key]) for key in order]
    copied = ((day_of(row.at), int(row.size)) for row in copies)
    came = (
        (date.fromisoformat(row.day), row.quantity * (row.capacity_bytes or 0)) for row in delivered
    )
    return DataSeen(days, every_drive(service), _grown(copied, came))


def _grown(
    copied: Iterable[tuple[date, int]], delivered: Iterable[tuple[date, int]]
) -> list[Grown]:
    changes: dict[date, list[int]] = {}
    for column, found in enumerate((copied, delivered)):
        for day, size in found:
            changes.setdefault(day, [0, 0])[column] += size
    grown, sums = [], [0, 0]
    for day in sorted(changes):
        sums = [sums[0] + changes[day][0], sums[1] + changes[day][1]]
        grown.append(Grown(day, sums[0], sums[1]))
    return grown


def reading_of_days(seen: DataSeen) -> str:
    """What the data of the days says."""
    by_day: dict[date, int] = {}
    for one in seen.days:
        by_day[one.day] = by_day.get(one.day, 0) + one.bytes
    if not by_day:
        return "Nothing came out of a camera yet."
    most = max(by_day, key=lambda day: (by_day[day], day))
    mean = sum(by_day.values()) // len(by_day)
    unsized = sum(one.unsized for one in seen.days)
    says = (
        f"{show_bytes(mean)} a day on {_days(len(by_day))} of shooting; "
        f"most on {most}: {show_bytes(by_day[most])}."
    )
    return f"{says} Not counted: {unsized} rolls of unknown size." if unsized else says


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def reading_of_space(seen: DataSeen) -> str:
    """What is left on the drives that can be used."""
    usable = [one for one in seen.drives if not one.state]
    if not usable:
        return "No drive is in use."
    left = sum(max(0, one.capacity_bytes - (one.bytes or 0)) for one in usable)
    full = max(usable, key=lambda one: (one.full or 0, one.label))
    said = "at most " if any(one.unsized for one in usable) else ""
    return (
        f"{said}{show_bytes(left)} is left on {len(usable)} drives; the fullest is {full.label}, "
        f"{full.full or 0} % full, as far as is known."
    )


def reading_of_growth(seen: DataSeen) -> str:
    """What was bought beside what was copied."""
    if not seen.grown:
        return "Nothing was copied yet, and no drive was delivered."
    last = seen.grown[-1]
    return (
        f"{show_bytes(last.copied)} was copied to drives in all, counting each copy; purchases "
        f"brought {show_bytes(last.delivered)} of drives."
    )
