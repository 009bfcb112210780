"""What rolls and drives wait for: each function is what one rule finds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from tracker.domain.dangers import Danger, dangers
from tracker.domain.drives import Drive
from tracker.domain.facts import END, Cleared, moment
from tracker.domain.mishaps import Mishap
from tracker.domain.rolls import Roll, owes
from tracker.domain.rule import counting
from tracker.domain.sizes import show_bytes
from tracker.domain.status import CardView
from tracker.reminders.found import Found, bare_since, closed_at, names, of_card, of_roll
from tracker.reminders.seen import Seen

OF_CARDS = ("exposed", "copied", "copying", "missing")
"""Statuses of cards whose uncovered rolls other rules speak of."""
LOSSES = ("formatted_uncovered", "found_empty", "covered_no_more", "left_uncovered")
NEARBY = ("on set", "near set")


def below(seen: Seen, now: datetime) -> Iterator[Found]:
    """Rolls below the backup rule that no card at hand stands for: danger.

    Wiped, left with a card, loaded or set aside; not those whose loss a person has settled.
    """
    context = seen.production.context
    for card in seen.cards:
        spoken_for = {roll.id for roll in card.uncovered} if card.status in OF_CARDS else set()
        promised = {roll.id: at for at, rolls, _ in _promises(seen, card) for roll in rolls}
        for roll in _below(card):
            if roll.id in spoken_for or _settled(card, roll):
                continue
            since = bare_since(roll, context, now)
            yield Found(
                of_roll(card, roll),
                roll.name,
                seen.unit_of(roll),
                since,
                f"Roll {roll.name} has been below the backup rule since {seen.when(since, now)}: "
                f"{_copies(seen, roll)}; {_whereabouts(card, roll)}.",
                _mend(seen, card, roll),
                due=promised.get(roll.id),
            )


def _below(card: CardView) -> list[Roll]:
    """Every closed roll that is not covered, and the open one of a card that is gone."""
    return list({roll.id: roll for roll in (*card.below, *card.uncovered)}.values())


def _settled(card: CardView, roll: Roll) -> bool:
    """Whether a person has looked at the loss of a roll, and said why it no longer stands."""
    if roll.id in card.state.settled_losses:
        return True
    made = [m for m in card.state.mishaps.values() if m.key.roll == roll.id]
    losses = [m for m in made if m.key.kind in LOSSES]
    return roll.wiped is not None and bool(losses) and not any(m.stands for m in losses)


def _copies(seen: Seen, roll: Roll) -> str:
    there = sorted({c.finish.drive for c in counting(roll, seen.production.context, END)})
    return f"copies on {', '.join(there)}" if there else "no copy that counts"


def _mend(seen: Seen, card: CardView, roll: Roll) -> str:
    """What can still be done for a roll below the rule."""
    if any(counting(roll, seen.production.context, END)):
        return "Make another copy of it from a good one now. Format nothing that holds it."
    if roll.wiped is None:
        return f"Do not format {card.label}, and back it up as soon as it can be had."
    return (
        f"Nobody loads, formats or writes to {card.label}: while nothing is written, footage may "
        "be recovered. Tell the people who decide."
    )


def _whereabouts(card: CardView, roll: Roll) -> str:
    if roll.wiped is not None:
        return f"{card.label} no longer has it"
    return f"{card.label} is {card.status}"


def off_site(seen: Seen, now: datetime) -> Iterator[Found]:
    """Rolls of which too few copies are off site: one thing for the whole production.

    Where the backup rule does not ask for them it is a note, for the list of the morning.
    """
    asked: list[Late] = []
    wished: list[Late] = []
    for card in seen.cards:
        for roll in card.state.all_closed():
            late = _too_near(seen, roll, now)
            if late is not None:
                rule = seen.production.context.rules.at(roll, END)
                (asked if late.away < rule.off_site else wished).append(late)
    if asked:
        yield _off_site("off site by the rule", asked, seen, now)
    if wished:
        yield replace(_off_site("off site", wished, seen, now), severity="note")


class Late(NamedTuple):
    """A roll of which too few copies are off site. away: how many are; drives: where the others."""

    since: datetime
    name: str
    away: int
    drives: frozenset[str]


def _too_near(seen: Seen, roll: Roll, now: datetime) -> Late | None:
    """A roll of which there are copies, and too few of them off site; None if it is not such."""
    if roll.loaded_as in ("mirror", "proxy") or not owes(roll):
        return None
    context = seen.production.context
    there = list(counting(roll, context, END))
    away = {copy.drive.enclosure for copy in there if copy.off_site}
    own = seen.chosen.of(seen.unit_of(roll)).off_site_copies
    if not there or len(away) >= max(own, context.rules.at(roll, END).off_site):
        return None
    near = [copy.drive for copy in there if not copy.off_site]
    came_back = (at for drive in near for at in _came_back(drive) if at <= now)
    since = max([closed_at(roll), *came_back])
    return Late(since, roll.name, len(away), frozenset(drive.label for drive in near))


def _came_back(drive: Drive) -> Iterator[datetime]:
    """When a drive left a place off site."""
    for before, at, state in zip(drive.states, drive.moments[1:], drive.states[1:], strict=False):
        if before.place == "off site" and state.place != "off site":
            yield at[0]


def _off_site(subject: str, late: list[Late], seen: Seen, now: datetime) -> Found:
    first = min(late)
    count = "1 roll has" if len(late) == 1 else f"{len(late)} rolls have"
    drives = sorted(set().union(*(one.drives for one in late)))
    return Found(
        f"production/{subject}",
        "off-site copy",
        None,
        first.since,
        f"{count} too few copies off site, {first.name} since {seen.when(first.since, now)}.",
        "Bring a drive with them off site, and log it as moved when it has arrived. Copies are on "
        f"{', '.join(drives)}.",
    )


def promised(seen: Seen, now: datetime) -> Iterator[Found]:
    """Promises that were given for a clearing against the rule, and are not kept yet."""
    for card in seen.cards:
        for until, rolls, fact in _promises(seen, card):
            ahead = seen.chosen.of(seen.unit_of(rolls[0])).promise_ahead
            promise = fact.promise or "to meet the backup rule"
            yield Found(
                f"{of_card(card)}/{fact.id}",
                card.label,
                seen.unit_of(rolls[0]),
                fact.occurred_at,
                f"{card.label} ({names(rolls)}) was cleared against the backup rule. "
                f"{fact.promise_by or 'Somebody'} promised until {seen.when(until, now)}: "
                f"{promise}.",
                "Keep the promise, log the copies, and then settle this.",
                due=max(fact.occurred_at, until - ahead),
                person=fact.promise_by,
            )


def _promises(seen: Seen, card: CardView) -> Iterator[tuple[datetime, list[Roll], Cleared]]:
    """The promises of a card that are open: until when, for which rolls, and by which fact."""
    for mishap in card.mishaps:
        if mishap.key.kind != "cleared_by_override":
            continue
        fact = seen.facts.get(mishap.key.fact)
        if not isinstance(fact, Cleared):
            continue
        at = moment(fact)
        rolls = [
            roll
            for roll in card.state.all_closed()
            if (roll.closed or END) <= at and (roll.wiped is None or roll.wiped > at)
            if not seen.covered(roll)
        ]
        if rolls:
            lasts = seen.chosen.of(seen.unit_of(rolls[0])).promise_lasts
            yield fact.promise_until or fact.occurred_at + lasts, rolls, fact


def not_looked_at(seen: Seen, now: datetime) -> Iterator[Found]:
    """Mishaps of danger that nobody has settled, but those of which `below` speaks already."""
    by_label = {card.label: card for card in seen.cards}
    for danger in dangers(seen.cards, dict(seen.facts)):
        card = by_label[danger.card]
        roll_id = danger.mishaps[0].key.roll
        roll = None if roll_id is None else card.state.rolls[roll_id]
        spoken_for = danger.covered is False and card.status not in OF_CARDS
        if spoken_for or _only_promised(danger.mishaps):
            continue
        yield Found(
            of_card(card) if roll is None else of_roll(card, roll),
            card.label if roll is None else roll.name,
            seen.unit_of_card(card) if roll is None else seen.unit_of(roll),
            min(danger.at[0], now),
            f"{_about(danger)}: {danger.says}. Nobody has settled it since "
            f"{seen.when(danger.at[0], now)}.",
            danger.to_do,
        )


def _only_promised(mishaps: Iterable[Mishap]) -> bool:
    return all(mishap.key.kind == "cleared_by_override" for mishap in mishaps)


def _about(danger: Danger) -> str:
    return danger.card if danger.roll is None else f"{danger.card}, roll {danger.roll}"


def full(seen: Seen, now: datetime) -> Iterator[Found]:
    """Drives at hand that have little room left."""
    percent = seen.chosen.production.drive_full_percent
    for label, copies in sorted(_on_drives(seen).items()):
        drive = seen.production.context.drives[label]
        state = drive.at(END)
        if not state.usable or state.place not in NEARBY or not drive.capacity_bytes:
            continue
        used, since = 0, None
        for at, size in sorted(copies):
            used += size
            if since is None and used * 100 > drive.capacity_bytes * percent:
                since = at
        if since is not None:
            left = show_bytes(max(0, drive.capacity_bytes - used))
            yield Found(
                f"drive/{label}",
                label,
                None,
                since,
                f"{label} is {used * 100 // drive.capacity_bytes} % full; {left} are left.",
                "Make room, or bring another drive before the next copies.",
            )


def _on_drives(seen: Seen) -> dict[str, list[tuple[datetime, int]]]:
    """What is known to be on each drive: when it came, and its bytes."""
    drives = seen.production.context.drives
    found: dict[str, dict[str, tuple[datetime, int]]] = {}
    for card in seen.cards:
        for roll in card.state.rolls.values():
            for finish in roll.standing():
                emptied = drives[finish.drive].at(END).emptied
                if emptied is not None and finish.at < emptied:
                    continue
                known = finish.figures.bytes or roll.figures.bytes
                if known is not None:
                    there = found.setdefault(finish.drive, {})
                    key = finish.fact if finish.figures.bytes else f"{finish.fact} {roll.id}"
                    there[key] = (finish.at[0], int(known.value))
    return {drive: list(there.values()) for drive, there in found.items()}
