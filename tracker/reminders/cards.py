"""What cards wait for: each function is what one rule finds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from tracker.domain.doubts import Doubt, probably_out
from tracker.domain.facts import END, START, ReportedMissing
from tracker.domain.needs import loss
from tracker.domain.permissions import may_clear
from tracker.domain.rolls import Roll, owes
from tracker.domain.rule import RANK, meets, only_level_wanting, rank, under_way
from tracker.domain.status import CardView
from tracker.reminders.found import (
    Found,
    at_cart,
    bare_since,
    closed_at,
    names,
    of_card,
    of_roll,
    oldest,
    where,
)
from tracker.reminders.seen import Seen


def exposed(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that were shot, and that somebody has yet to copy."""
    for card, waiting, bare in _exposed(seen, now, cleared=False):
        first = oldest(waiting)
        since = first.closed or END
        here = at_cart(card, since)
        settles = dict.fromkeys(
            reason.settles
            for reason in may_clear(card.state, seen.production.context)
            if reason.roll in {roll.name for roll in waiting}
        )
        bring = "" if here else "Bring it to the cart. "
        yield Found(
            of_roll(card, first),
            card.label,
            seen.unit_of(first),
            bare,
            f"{card.label} was shot ({names(waiting)}), came out at "
            f"{seen.when(since[0], now)} and is not backed up; {where(card, since)}.",
            f"{bring}Do not format. At the cart: {'; '.join(settles)}.",
            to_copy=True,
            who=("data manager",) if here else ("loader",),
        )


def fallen(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that were cleared and may not be formatted any more, which nobody can see on them."""
    for card, waiting, bare in _exposed(seen, now, cleared=True):
        clearing = card.state.clearing
        assert clearing is not None
        yield Found(
            f"{of_card(card)}/{clearing.fact}",
            card.label,
            seen.unit_of(waiting[0]),
            bare,
            f"{card.label} ({names(waiting)}) was cleared, and has not been backed up any more "
            f"since {seen.when(bare, now)}; {where(card, waiting[0].closed or END)}.",
            "Do not format it. Tell whoever has it, change its tape, and bring it to the cart.",
        )


def _exposed(
    seen: Seen, now: datetime, *, cleared: bool
) -> Iterator[tuple[CardView, list[Roll], datetime]]:
    """Cards of which copies are wanting, with those rolls, and since when they are.

    cleared: those that were cleared all the same; or those that were not.
    """
    for card in seen.cards:
        if card.status == "exposed" and (card.state.clearing is not None) == cleared:
            waiting = [roll for roll in card.uncovered if _to_copy(seen, roll)]
            if waiting:
                context = seen.production.context
                yield card, waiting, min(bare_since(roll, context, now) for roll in waiting)


def _to_copy(seen: Seen, roll: Roll) -> bool:
    """Whether copies are wanting: not only a check, a place off site, or an answer from post."""
    context = seen.production.context
    if under_way(roll, context) or only_level_wanting(roll, context):
        return False
    bare = replace(context.rules.at(roll, END), off_site=0, receipt=False)
    return roll.verdict == "bad" or not meets(roll, bare, context, END)


def unchecked(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that have their copies, of which the check is wanting."""
    context = seen.production.context
    for card in seen.cards:
        if card.status != "copied":
            continue
        waiting = list(card.uncovered)
        first = oldest(waiting)
        since = max(finish.at[0] for roll in waiting for finish in roll.standing())
        wanted = context.rules.at(first, END).level
        there = {
            finish.drive
            for roll in waiting
            for finish in roll.standing()
            if rank(finish, roll, context, END) < RANK[wanted]
        }
        yield Found(
            of_roll(card, first),
            card.label,
            seen.unit_of(first),
            since,
            f"{card.label} ({names(waiting)}) has been copied since {seen.when(since, now)}, and "
            "nobody has checked the copies.",
            f"Check them, {wanted}: {', '.join(sorted(there))}. Do not format until then.",
        )


def stale_copying(seen: Seen, now: datetime) -> Iterator[Found]:
    """Copies that should have been finished long ago: twice the time that they should take."""
    context = seen.production.context
    for card in seen.cards:
        for roll in card.uncovered:
            if roll.closed is None or not under_way(roll, context):
                continue
            unit = seen.unit_of(roll)
            for copy in roll.copies.values():
                if copy.attempt is None:
                    continue
                begun = copy.attempt.at[0]
                yield Found(
                    f"{of_roll(card, roll)}/{copy.attempt.fact}",
                    card.label,
                    unit,
                    begun + 2 * _expected(seen, card, roll, unit),
                    f"The copy of {roll.name} ({card.label}) to {copy.drive} has been running "
                    f"since {seen.when(begun, now)}: more than twice as long as it should.",
                    "Look whether it still runs, and log how it ended. Do not format.",
                )


def _expected(seen: Seen, card: CardView, roll: Roll, unit: str | None) -> timedelta:
    """How long a copy should take; of a roll of unknown size, as long as a full card."""
    limits = seen.chosen.of(unit)
    known = roll.figures.bytes
    full = 0 if card.state.registered is None else card.state.registered.capacity_bytes
    size = full if known is None or not known.value else known.value
    return max(limits.copy_at_least, timedelta(seconds=size / limits.copy_bytes_per_s))


def out_of_camera(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that are probably out of their camera, since too many others went in."""
    for doubt in probably_out(seen.production.cameras, seen.cards):
        card = next(one for one in seen.cards if one.label == doubt.cards[0])
        roll = card.state.open_roll()
        if roll is None or card.status != "loaded":
            continue
        yield Found(
            of_roll(card, roll),
            card.label,
            seen.unit_of(roll),
            _doubted_since(seen, roll, doubt),
            f"{doubt.says}, shot and not copied.",
            f"Say whether {card.label} is out (log the pull) or in (log the load again). "
            "Do not format.",
        )


def _doubted_since(seen: Seen, roll: Roll, doubt: Doubt) -> datetime:
    """When the last card that the camera had room for went in beside the earlier one."""
    described = seen.production.cameras.get(roll.camera or "")
    slots = 1 if described is None else described.slots
    others = [card.state.open_roll() for card in seen.cards if card.label not in doubt.cards]
    later = sorted(
        (one.said_in, one.slot is not None and one.slot == roll.slot)
        for one in others
        if one is not None and one.camera == roll.camera and one.said_in > roll.said_in
    )
    told = [at for n, (at, same) in enumerate(later, start=1) if n >= slots or same]
    return (min(told) if told else roll.said_in)[0]


def missing(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that nobody can find, with footage that is not backed up."""
    for card in seen.cards:
        if card.status == "missing" and card.uncovered:
            lost = names(list(card.uncovered))
            since = _missing_since(seen, card)
            yield Found(
                of_card(card),
                card.label,
                seen.unit_of_card(card),
                since,
                f"{card.label} has been missing since {seen.when(since, now)}, with {lost}, "
                "which is not backed up.",
                "Everyone looks for it, now. Nobody formats a card that turns up; log it as found.",
            )


def missing_bare(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that nobody can find; all that they hold is backed up."""
    for card in seen.cards:
        if card.status == "missing" and not card.uncovered:
            since = _missing_since(seen, card)
            yield Found(
                of_card(card),
                card.label,
                None,
                since,
                f"{card.label} has been missing since {seen.when(since, now)}; nothing on it is "
                "uncovered.",
                "Look for it, and log it as found, or retire it as lost.",
            )


def _missing_since(seen: Seen, card: CardView) -> datetime:
    fact = seen.last_fact(card, ReportedMissing)
    if fact is None:
        return (card.state.last or START)[0]
    return fact.occurred_at


def backed_up(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that may be cleared, and were not; visiting ones that may go back."""
    at = (now, now, "", "")
    for card in seen.cards:
        if card.status != "backed up" or card.state.given_back or loss(card) is not None:
            continue
        if not card.state.visiting and may_clear(card.state, seen.production.context, at):
            continue
        closed = [roll for roll in card.state.closed_rolls() if owes(roll)]
        finishes = [finish.at[0] for roll in closed for finish in roll.standing()]
        since = max([*finishes, *(closed_at(roll) for roll in closed)], default=None)
        if since is None:
            continue
        give = "Give it back." if card.state.visiting else "Clear it."
        yield Found(
            of_roll(card, oldest(closed)),
            card.label,
            seen.unit_of_card(card),
            since,
            f"Everything on {card.label} ({names(closed)}) is backed up.",
            give,
        )


def cleared(seen: Seen, now: datetime) -> Iterator[Found]:
    """Cards that may be formatted, and were not."""
    for card in seen.cards:
        clearing = card.state.clearing
        if card.status != "cleared" or not card.holds or clearing is None or card.uncovered:
            continue
        if loss(card) is not None:
            continue
        since = clearing.at[0]
        yield Found(
            f"{of_card(card)}/{clearing.fact}",
            card.label,
            seen.unit_of_card(card),
            since,
            f"{card.label} has been cleared since {seen.when(since, now)}.",
            "Format it in the camera when it is needed; nothing is urgent.",
        )


def damaged(seen: Seen, now: datetime) -> Iterator[Found]:
    """Damage that somebody noted, and nobody settled."""
    for card in seen.cards:
        unit = seen.unit_of_card(card)
        for damage in card.state.damage:
            settled = damage.id in card.state.damage_settled
            if settled or damage.severity < seen.chosen.of(unit).damage_from:
                continue
            if card.status == "retired":
                continue
            yield Found(
                f"{of_card(card)}/{damage.id}",
                card.label,
                unit,
                damage.occurred_at,
                f"{card.label} was damaged on {seen.when(damage.occurred_at, now)} "
                f"({damage.part}, severity {damage.severity} of 4).",
                "Look at it, and settle the damage or retire the card.",
            )
