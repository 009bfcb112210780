"""What a rule finds, and to whom a card that waits belongs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from tracker.domain.facts import Moment
from tracker.domain.mishaps import Severity
from tracker.domain.rolls import Roll
from tracker.domain.rule import Context
from tracker.domain.status import CardView

Role = Literal["data manager", "loader", "production office", "administrator"]


@dataclass(frozen=True, slots=True)
class Found:
    """Something that a rule speaks of, whether its time has come or not.

    subject: what it is about, the same for as long as it is the same thing. about: its name.
    unit: the crew unit whose hours count. since: from when the rule's time counts. says: what is
    the matter; to_do: what to do. to_copy: a card that waits to be copied, so that the unit's
    habit decides by when. due: the moment itself, where the rule knows it. who, severity: if not
    as the rule has them. person: who promised it. lines: what stands below, one thing each.
    """

    subject: str
    about: str
    unit: str | None
    since: datetime
    says: str
    to_do: str
    to_copy: bool = False
    due: datetime | None = None
    who: tuple[Role, ...] | None = None
    severity: Severity | None = None
    person: str | None = None
    lines: tuple[str, ...] = ()


def of_card(card: CardView) -> str:
    """The subject that a card is."""
    return f"card/{card.state.card_id}"


def of_roll(card: CardView, roll: Roll) -> str:
    """The subject that a roll is: another one for each filling of it."""
    filling = f"/{roll.fillings}" if roll.fillings > 1 else ""
    return f"roll/{card.state.card_id}/{roll.id}{filling}"


def closed_at(roll: Roll) -> datetime:
    """When a roll came out of the camera; of one that is in it, when it went in."""
    return (roll.closed or roll.loaded)[0]


def bare_since(roll: Roll, context: Context, now: datetime) -> datetime:
    """Since when a roll is not covered: its pull, or what took its cover away since.

    A lost copy, a drive that can no longer be had or was emptied, another backup rule.
    """
    moments = [closed_at(roll)]
    if roll.wiped is not None and not roll.covered_when_wiped:
        moments.append(roll.wiped[0])
    for copy in roll.copies.values():
        if copy.ended == "lost" and copy.ended_at is not None:
            moments.append(copy.ended_at[0])
        drive = context.drives[copy.drive]
        for at, state in zip(drive.moments[1:], drive.states[1:], strict=True):
            if not state.usable or state.emptied == at:
                moments.append(at[0])
    moments += [at[0] for at in context.rules.changes if roll.wiped is None]
    return max((at for at in moments if at <= now), default=closed_at(roll))


def oldest(rolls: list[Roll]) -> Roll:
    """The roll that came out first."""
    return min(rolls, key=lambda roll: (closed_at(roll), roll.id))


def names(rolls: list[Roll]) -> str:
    """The names of some rolls, each once."""
    return ", ".join(dict.fromkeys(roll.name for roll in rolls))


def at_cart(card: CardView, since: Moment) -> bool:
    """Whether the card was handed over to the cart, or further, since it came out."""
    holder = card.state.holder
    if holder is None or (holder.occurred_at, holder.logged_at) < since[:2]:
        return False
    return holder.place not in ("camera crew", "other unit")


def where(card: CardView, since: Moment) -> str:
    """Who has had the card since it came out of the camera."""
    holder = card.state.holder
    if holder is None or (holder.occurred_at, holder.logged_at) < since[:2]:
        return "nobody logged where it went"
    return f"with {holder.to}, {holder.place}"
