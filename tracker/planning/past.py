"""Where cards were, and what they held, over the days of a production.

A stretch is a time in which one thing was true of one card, as far as the facts tell today: what
is covered now counts as covered from the pull on. What is not, or was formatted away before it
was, is a dangerous stretch for as long as the card held it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

What = Literal["in a camera", "holds footage, covered", "holds footage, not covered"]
WORST: tuple[What, ...] = (
    "holds footage, not covered",
    "in a camera",
    "holds footage, covered",
)
"""What a day of a card is called after, if several are true on it: the first of these."""


@dataclass(frozen=True, slots=True)
class Held:
    """A roll on a card. Times are aware; opened None is unknown, closed or wiped None not yet."""

    card: str
    roll: str
    camera: str | None
    opened: datetime | None
    closed: datetime | None
    wiped: datetime | None
    endangered: bool


@dataclass(frozen=True, slots=True)
class Stretch:
    """A time in which one thing was true of one card. says: the rolls, and the camera."""

    card: str
    start: datetime
    end: datetime
    what: What
    says: str


def stretches(held: Iterable[Held], since: datetime, until: datetime) -> Iterator[Stretch]:
    """The stretches of rolls, cut to a window; what is not over ends with the window."""
    for one in held:
        begun = one.opened or one.closed
        if begun is None:
            continue
        out = one.closed or one.wiped or until
        where = f"{one.roll} in {one.camera or 'a camera that nobody named'}"
        yield from _cut(one.card, begun, out, "in a camera", where, since, until)
        if one.closed is not None:
            what: What = (
                "holds footage, not covered" if one.endangered else "holds footage, covered"
            )
            gone = one.wiped or until
            yield from _cut(one.card, one.closed, gone, what, one.roll, since, until)


def _cut(
    card: str, start: datetime, end: datetime, what: What, says: str, since: datetime,
    until: datetime,
) -> Iterator[Stretch]:  # fmt: skip
    start, end = max(start, since), min(end, until)
    if start < end:
        yield Stretch(card, start, end, what, says)


Days = dict[str, dict[date, What]]
"""By card, what each day is called after; days on which nothing is known are not there."""


def by_day(found: Iterable[Stretch], zone: ZoneInfo) -> Days:
    """What each day of each card is called after, by the days of a zone."""
    rank = {what: number for number, what in enumerate(WORST)}
    days: Days = {}
    for one in found:
        mine = days.setdefault(one.card, {})
        for day in _days(one.start.astimezone(zone), one.end.astimezone(zone)):
            known = mine.get(day)
            if known is None or rank[one.what] < rank[known]:
                mine[day] = one.what
    return days


def _days(start: datetime, end: datetime) -> Iterator[date]:
    """The days that a time touches; one that ends at midnight does not touch the next."""
    day, last = start.date(), (end - timedelta(microseconds=1)).date()
    while day <= last:
        yield day
        day += timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Counted:
    """The days, and the cards that were in a camera at all, or in danger at all."""

    days: Days
    used: frozenset[str]
    endangered: frozenset[str]


Quick = tuple[str, int | None, int | None, int | None, bool]
"""A roll as `Held`, its times in microseconds: card, opened, closed, wiped, endangered."""


def count_days(held: Iterable[Quick], starts: Sequence[int], days: Sequence[date]) -> Counted:
    """As `by_day` of `stretches`, for many rolls: the same answer in a tenth of the time.

    starts: of each day, in microseconds, and after them the end of the window; days: their dates.
    """
    ranks = {what: len(WORST) - number for number, what in enumerate(WORST)}
    camera, covered, danger = (
        ranks["in a camera"], ranks["holds footage, covered"], ranks["holds footage, not covered"]
    )  # fmt: skip
    marked: dict[str, list[int]] = {}
    seen: dict[int, set[str]] = {camera: set(), covered: set(), danger: set()}
    since, until = starts[0], starts[-1]

    def mark(card: str, start: int, end: int, rank: int) -> None:
        start, end = max(start, since), min(end, until)
        if start >= end:
            return
        seen[rank].add(card)
        mine = marked.setdefault(card, [0] * len(days))
        for day in range(bisect_right(starts, start) - 1, bisect_left(starts, end)):
            mine[day] = max(mine[day], rank)

    for card, opened, closed, wiped, endangered in held:
        begun = closed if opened is None else opened
        if begun is None:
            continue
        gone = until if wiped is None else wiped
        mark(card, begun, gone if closed is None else closed, camera)
        if closed is not None:
            mark(card, closed, gone, danger if endangered else covered)
    called: dict[int, What] = {rank: what for what, rank in ranks.items()}
    found = {
        card: {day: called[rank] for day, rank in zip(days, mine, strict=True) if rank}
        for card, mine in marked.items()
    }
    return Counted(found, frozenset(seen[camera]), frozenset(seen[danger]))


@dataclass(frozen=True, slots=True)
class Run:
    """Days in a row that are called after the same; last: the last of them."""

    card: str
    first: date
    last: date
    what: What


def runs(days: Days) -> Iterator[Run]:
    """Days in a row, card by card."""
    for card, mine in sorted(days.items()):
        first = last = None
        for day in sorted(mine):
            if first and last and day == last + timedelta(days=1) and mine[day] == mine[first]:
                last = day
                continue
            if first and last:
                yield Run(card, first, last, mine[first])
            first = last = day
        if first and last:
            yield Run(card, first, last, mine[first])
