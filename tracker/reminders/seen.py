"""The production at a moment, as the rules look at it: read once, asked by each of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from tracker.domain.facts import Called, CardFact, Loaded, Wrapped, moment
from tracker.domain.fold import Production
from tracker.domain.rolls import Roll
from tracker.domain.rule import covered
from tracker.domain.status import CardView
from tracker.domain.voids import effective
from tracker.reminders.hours import Hours, hours_of, together
from tracker.reminders.limits import Chosen


@dataclass(frozen=True, slots=True)
class Seen:
    """A production at a moment, with what it has set.

    cards: every card as it stands. facts: what was logged of cards, by id. hours: by unit; all
    hours: those in which any unit works.
    """

    production: Production
    chosen: Chosen
    cards: tuple[CardView, ...]
    facts: Mapping[str, CardFact]
    hours: Mapping[str, Hours]
    all_hours: Hours

    def hours_for(self, unit: str | None) -> Hours:
        """The hours of a unit; of what belongs to none, those of all."""
        return self.all_hours if unit is None else self.hours.get(unit, self.all_hours)

    def unit_of(self, roll: Roll | None) -> str | None:
        """The unit whose camera shot a roll; None if that is not known."""
        if roll is None or roll.camera is None:
            return None
        camera = self.production.cameras.get(roll.camera)
        return None if camera is None else camera.unit

    def unit_of_card(self, card: CardView) -> str | None:
        """The unit whose camera a card was in last; None if that is not known."""
        rolls = card.state.rolls.values()
        return self.unit_of(max(rolls, key=lambda roll: roll.loaded, default=None))

    def covered(self, roll: Roll) -> bool:
        """Whether a closed roll meets the backup rule."""
        return covered(roll, self.production.context)

    def when(self, at: datetime, now: datetime) -> str:
        """A time in the production's zone; with its date if it is of another one."""
        zone = self.production.context.zone
        here = at.astimezone(zone)
        if here.date() == now.astimezone(zone).date():
            return f"{here:%H:%M}"
        return f"{here:%Y-%m-%d %H:%M}"

    def last_fact(self, card: CardView, kind: type[CardFact]) -> CardFact | None:
        """The latest fact of a kind that counts of a card; None if there is none."""
        of_card = effective(list(self.production.facts.get(card.state.card_id, ())))
        return max((f for f in of_card if isinstance(f, kind)), key=moment, default=None)


def see(
    production: Production,
    now: datetime,
    chosen: Chosen | None = None,
    views: Sequence[CardView] | None = None,
) -> Seen:
    """A production, folded from the facts up to a moment, ready for the rules.

    `production.others` must hold the calls and wraps, as far as there are any. views: every card
    as it stands, where that is known already.
    """
    chosen = chosen or Chosen()
    facts = {fact.id: fact for of_card in production.facts.values() for fact in of_card}
    hours = _hours(production, facts.values(), now, chosen)
    return Seen(
        production=production,
        chosen=chosen,
        cards=tuple(production.views() if views is None else views),
        facts=facts,
        hours=hours,
        all_hours=together(hours.values()),
    )


def _hours(
    production: Production, facts: Iterable[CardFact], now: datetime, chosen: Chosen
) -> dict[str, Hours]:
    """The hours of each unit that has a camera or was called; at least of one called main."""
    said: dict[str, list[Called | Wrapped]] = {}
    for fact in production.others:
        if isinstance(fact, Called | Wrapped) and fact.occurred_at <= now:
            said.setdefault(fact.unit, []).append(fact)
    busy: dict[str, list[datetime]] = {}
    first = now
    for unit, at in _busy(production, facts, now):
        busy.setdefault(unit, []).append(at)
        first = min(first, at)
    units = {camera.unit for camera in production.cameras.values()} | set(said) | set(busy)
    context = production.context
    clock = (context.zone, context.day_starts)
    return {
        unit: hours_of(said.get(unit, []), busy.get(unit, []), (first, now), clock, chosen.of(unit))
        for unit in sorted(units or {"main"})
    }


def _busy(
    production: Production, facts: Iterable[CardFact], now: datetime
) -> Iterator[tuple[str, datetime]]:
    """When something happened at a unit's cameras."""
    cameras = production.cameras
    for fact in facts:
        if isinstance(fact, Loaded) and fact.occurred_at <= now:
            described = cameras.get(fact.camera)
            if described is not None:
                yield described.unit, fact.occurred_at
    for state in production.cards.values():
        for roll in state.rolls.values():
            described = cameras.get(roll.camera or "")
            if described is not None and roll.last_closed is not None:
                yield described.unit, roll.last_closed[0]
