"""At wrap: what of the day is neither backed up nor formatted, still loaded or owed; one list."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from tracker.domain.needs import WHO
from tracker.domain.rolls import Roll
from tracker.domain.status import CardView
from tracker.reminders.found import Found, Role, at_cart, names, where
from tracker.reminders.hours import Hours, Span
from tracker.reminders.seen import Seen

OPEN = ("loaded", "exposed", "copying", "copied")


def at_wrap(seen: Seen, now: datetime) -> Iterator[Found]:
    """What each unit's last day left open, from its wrap until its next call."""
    for unit, hours in seen.hours.items():
        day = _last_day(hours, now)
        if day is None:
            continue
        owed = [(card, _owed(card, day)) for card in seen.cards if _of(seen, card, unit)]
        lines = [_line(seen, card, rolls) for card, rolls in owed if rolls]
        if not lines:
            continue
        count = "1 card is" if len(lines) == 1 else f"{len(lines)} cards are"
        yield Found(
            f"unit/{unit}/{day.day}",
            f"{unit} unit, {day.day}",
            unit,
            day.end,
            f"{_ended(seen, unit, day, now)}; {count} neither backed up nor formatted.",
            "Go through the list: bring, copy, check. Nothing on it may be formatted.",
            due=day.end,
            who=_told(owed),
            lines=tuple(lines),
        )


def _ended(seen: Seen, unit: str, day: Span, now: datetime) -> str:
    """How the day ended, as far as somebody said."""
    if day.said:
        return f"The {unit} unit wrapped at {seen.when(day.end, now)}"
    return f"Nobody logged when the {unit} unit wrapped"


def _last_day(hours: Hours, now: datetime) -> Span | None:
    """The day that ended last, unless another has begun since."""
    begun = [span for span in hours.spans if span.start <= now]
    if not begun or any(span.start <= now < span.end for span in begun):
        return None
    return max(begun, key=lambda span: span.end)


def _of(seen: Seen, card: CardView, unit: str) -> bool:
    """Whether a card is a unit's; one whose unit is not known is the first unit's."""
    own = seen.unit_of_card(card)
    return own == unit if own is not None else unit == next(iter(seen.hours))


def _owed(card: CardView, day: Span) -> list[Roll]:
    """The rolls of a card that stand on the list."""
    rolls = list(card.uncovered)
    opened = card.state.open_roll()
    if card.status == "loaded" and opened is not None and opened.loaded[0] < day.end:
        rolls.append(opened)
    if card.status not in OPEN and card.status not in ("missing", "set aside", "retired"):
        return []
    return list({roll.id: roll for roll in rolls}.values())


def _line(seen: Seen, card: CardView, rolls: list[Roll]) -> str:
    """One card: what it holds, how it stands, and who acts."""
    if card.status == "loaded":
        return f"{card.label} ({names(rolls)}): still in camera {card.camera}; camera crew"
    since = max(roll.closed or roll.loaded for roll in rolls)
    owner = "data manager" if card.status == "exposed" and at_cart(card, since) else None
    return (
        f"{card.label} ({names(rolls)}): {card.status}, {where(card, since)}; "
        f"{owner or WHO[card.status]}"
    )


def _told(owed: list[tuple[CardView, list[Roll]]]) -> tuple[Role, ...]:
    """The data manager; the loader too, where a card is not at the cart yet."""
    for card, rolls in owed:
        since = max((roll.closed or roll.loaded for roll in rolls), default=None)
        brought = card.status not in ("loaded", "exposed") or (
            since is not None and card.status == "exposed" and at_cart(card, since)
        )
        if rolls and not brought:
            return ("data manager", "loader")
    return ("data manager",)
