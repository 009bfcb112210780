"""What one fact makes of a card: `step`, the rule that everything else stands on.

Facts come in the order in which they happened. No fact is refused: one that should never have
happened makes a mishap. `step` gives a new state; `apply` changes one that nobody else keeps.

Here are the facts about the card itself; those about copies of its rolls stand in `copies.py`,
formats in `wiping.py`, leave to format in `clearing.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tracker.domain import clearing, copies, wiping
from tracker.domain.calendar import roll_name
from tracker.domain.card import CardState
from tracker.domain.facts import (
    START,
    CardFact,
    CheckedIn,
    Cleared,
    ClearingWithdrawn,
    CopyChecked,
    CopyFailed,
    CopyFinished,
    CopyLost,
    CopyStarted,
    DamageNoted,
    DamageSettled,
    DeclaredEmpty,
    Formatted,
    Found,
    HandedOver,
    HealthRead,
    Loaded,
    Moment,
    Pulled,
    Received,
    Registered,
    Relabelled,
    ReportedMissing,
    Retired,
    ReturnedToService,
    RollRenamed,
    SetAside,
    Settled,
    WrittenOff,
    moment,
)
from tracker.domain.leaving import close, closed_by_implication
from tracker.domain.mishaps import Mishap, MishapKey
from tracker.domain.rolls import UNKNOWN, Before, Figures, Roll, figures, merged, owes
from tracker.domain.rule import Context, covered
from tracker.domain.short import judge_short, settle_short


def place(fact: CardFact) -> Moment:
    """Where a fact of a card is folded: a registration counts from the start."""
    return START if isinstance(fact, Registered) else moment(fact)


def step(state: CardState, fact: CardFact, context: Context) -> CardState:
    """The card after one more fact, which must not be earlier than those already folded.

    A `voided` changes nothing here: whoever folds leaves out what is voided (see `fold.py`).
    """
    new = state.fork()
    apply(new, fact, context)
    return new


def apply(state: CardState, fact: CardFact, context: Context) -> None:
    """Change a state, which nobody else may keep, by one more fact."""
    apply_at(state, fact, place(fact), context)


def apply_at(state: CardState, fact: CardFact, at: Moment, context: Context) -> None:
    """As `apply`, with the fact's place, for whoever knows it already."""
    state.last = at
    state.folded += 1
    if not state.labels:
        state.labels = (fact.card,)
    if fact.clamped:
        state.mishap(fact.id, "order_doubtful")
    rule = _RULES.get(type(fact))
    if rule is not None:
        rule(state, fact, at, context)


# Into the pool, and out of it


def _registered(state: CardState, fact: Registered, at: Moment, context: Context) -> None:
    if state.registered is None:
        state.registered = fact
        state.labels = (fact.card,)


def _relabelled(state: CardState, fact: Relabelled, at: Moment, context: Context) -> None:
    state.labels = (*state.labels, fact.new_label)


def _checked_in(state: CardState, fact: CheckedIn, at: Moment, context: Context) -> None:
    state.missing = False
    closed_by_implication(state, fact, at)
    state.seen = True
    if fact.found == "empty":
        for roll in state.closed_rolls():
            if not covered(roll, context, at):
                state.mishap(fact.id, "found_empty", roll.id)
    elif not any(owes(roll) for roll in state.closed_rolls()):
        roll = _open(state, fact, at, roll_name(state.label, fact.occurred_at, context.zone))
        close(state, roll, at)
        # Nobody pulled it: a pull that comes now is of another filling.
        state.answerable = None


def _retired(state: CardState, fact: Retired, at: Moment, context: Context) -> None:
    state.retired = fact.reason
    _left(state, fact, at, context)


def _handed_over(state: CardState, fact: HandedOver, at: Moment, context: Context) -> None:
    state.missing = False
    state.holder = fact
    if fact.place == "camera crew":
        state.answerable = None
    else:
        closed_by_implication(state, fact, at)
    if fact.outside or fact.place == "rental house":
        _left(state, fact, at, context)


def _left(state: CardState, fact: CardFact, at: Moment, context: Context) -> None:
    """The card is gone from the production, with all that is on it."""
    for roll_id in state.held:
        if not covered(state.rolls[roll_id], context, at):
            state.mishap(fact.id, "left_uncovered", roll_id)


# Into the camera


def _loaded(state: CardState, fact: Loaded, at: Moment, context: Context) -> None:
    missing, state.missing = state.missing, False
    roll = state.open_roll()
    if roll is not None and roll.camera == fact.camera and _same(roll, fact.roll):
        if fact.formatted and not roll.formatted_since_load:
            wiping.format_in_camera(state, fact, at, context, late=False)
        state.edit(state.opened or roll.id).said_in = at
        return
    if missing or state.set_aside or state.retired is not None:
        state.mishap(fact.id, "loaded_unfit")
    closed_by_implication(state, fact, at)
    again = _resumable(state, fact)
    for held in state.closed_rolls():
        if held is not again and not covered(held, context, at):
            state.mishap(fact.id, "loaded_uncovered", held.id)
    if again is not None:
        _resume(state, again.id, fact, at)
    else:
        guessed = fact.roll is None and fact.guessed_roll is not None
        name = fact.roll or fact.guessed_roll
        name = name or roll_name(state.label, fact.occurred_at, context.zone)
        _open(state, fact, at, name, guessed=guessed)
    state.answerable = None
    if fact.formatted:
        wiping.format_in_camera(state, fact, at, context, late=False)


def _same(roll: Roll, name: str | None) -> bool:
    return name is None or name in roll.names


def _resumable(state: CardState, fact: Loaded) -> Roll | None:
    """The roll on the card that this load goes on with, in the same camera."""
    if fact.roll is None:
        return None
    there = [r for r in state.closed_rolls() if fact.roll in r.names and r.camera == fact.camera]
    return max(there, key=lambda roll: roll.opened, default=None)


def _open(
    state: CardState, fact: CardFact, at: Moment, name: str, *, guessed: bool = False
) -> Roll:
    roll = Roll(
        id=fact.id,
        names=(name,),
        camera=None,
        loaded_as="main",
        opened=at,
        loaded=at,
        loaded_by=fact.id,
        said_in=at,
        guessed=guessed,
    )
    if isinstance(fact, Loaded):
        roll.camera, roll.loaded_as, roll.slot = fact.camera, fact.loaded_as, fact.slot
        roll.body, roll.recording = fact.body, fact.recording
    state.opened = fact.id
    return state.add(roll)


def _resume(state: CardState, roll_id: str, fact: Loaded, at: Moment) -> None:
    """The camera goes on with a roll: what was copied of it so far is of an earlier filling."""
    roll = state.edit(roll_id)
    roll.outdated = tuple(drive for drive in roll.earlier if drive not in roll.copies)
    roll.earlier = {**roll.earlier, **roll.copies}
    roll.copies = {}
    roll.before = Before(
        roll.figures, roll.declared_empty, roll.written_off, roll.verdict, roll.known_before
    )
    known = [*roll.known_before, *roll.copied_alone()]
    roll.known_before = tuple(dict.fromkeys(one for one in known if one != UNKNOWN))
    roll.given = UNKNOWN
    roll.closed, roll.implied_by = None, None
    roll.loaded, roll.loaded_by, roll.slot = at, fact.id, fact.slot
    roll.said_in = at
    roll.formatted_since_load = False
    roll.declared_empty = roll.written_off = False
    roll.verdict = None if roll.verdict == "good" else roll.verdict
    state.opened = roll_id


# Out of the camera


def _pulled(state: CardState, fact: Pulled, at: Moment, context: Context) -> None:
    state.missing = False
    if fact.unmounted is False:
        state.mishap(fact.id, "pulled_mounted")
    given = figures(fact.bytes, fact.clips, fact.seconds, measured=fact.measured)
    said_again = None
    if state.opened is not None:
        roll = state.edit(state.opened)
        _count(roll, given)
        roll.scenes = fact.scenes or roll.scenes
        close(state, roll, at)
    elif (said_again := _answered(state)) is not None:
        roll = state.edit(said_again)
        _count(roll, given)
        roll.scenes = fact.scenes or roll.scenes
        if roll.implied_by is not None:
            state.mishaps.pop(MishapKey(roll.implied_by, "pull_missing", roll.id), None)
            roll.implied_by = None
    else:
        name = roll_name(state.label, fact.occurred_at, context.zone)
        roll = _open(state, fact, at, name)
        _count(roll, given)
        roll.scenes = fact.scenes
        close(state, roll, at)
        state.mishap(fact.id, "pulled_unlogged", roll.id)
    judge_short(state, roll.id, context, at)
    _judge_capacity(state, fact, roll, said_again=said_again is not None)


def _count(roll: Roll, given: Figures) -> None:
    """Take the figures of a pull; where a resumed roll got none, those of its pull before."""
    roll.given = merged(roll.given, given)
    before = UNKNOWN if roll.before is None else roll.before.figures
    given = roll.given
    roll.figures = Figures(
        given.bytes or before.bytes, given.clips or before.clips, given.seconds or before.seconds
    )


def _answered(state: CardState) -> str | None:
    """The closed roll that a pull says again, or says at last: None is the dangerous case."""
    if state.answerable is None:
        return None
    roll = state.rolls[state.answerable]
    return roll.id if roll.implied_by is not None or not roll.copies else None


def _judge_capacity(state: CardState, fact: Pulled, roll: Roll, *, said_again: bool) -> None:
    """Whether the closed rolls can be on the card at all, as the last pull of one has it."""
    if said_again:
        for key in [k for k in state.mishaps if k.kind == "over_capacity" and k.roll == roll.id]:
            del state.mishaps[key]
    if state.registered is None or roll.wiped is not None:
        return
    if sum(held.bytes for held in state.closed_rolls()) > state.registered.capacity_bytes:
        state.mishap(fact.id, "over_capacity", roll.id)


# What people say of a roll


def _renamed(state: CardState, fact: RollRenamed, at: Moment, context: Context) -> None:
    found = state.named(fact.roll)
    if found is None:
        return
    roll = state.edit(found.id)
    roll.guessed = False
    roll.names = (*(n for n in roll.names if n != fact.new_name), fact.new_name)
    state.call(roll, fact.new_name)


def _owes_nothing(
    state: CardState, fact: DeclaredEmpty | WrittenOff, at: Moment, context: Context
) -> None:
    found = state.named(fact.roll)
    if found is None or found.closed is None:
        return
    roll = state.edit(found.id)
    if isinstance(fact, WrittenOff):
        roll.written_off = True
    else:
        roll.declared_empty = True


def _received(state: CardState, fact: Received, at: Moment, context: Context) -> None:
    found = state.named(fact.roll)
    if found is None:
        return
    state.edit(found.id).verdict = fact.verdict
    if fact.verdict == "bad":
        state.mishap(fact.id, "post_says_bad", found.id)


# Fit for use


def _set_aside(state: CardState, fact: SetAside, at: Moment, context: Context) -> None:
    state.set_aside = (*state.set_aside, fact.reason)


def _returned(state: CardState, fact: ReturnedToService, at: Moment, context: Context) -> None:
    state.set_aside = ()


def _damaged(state: CardState, fact: DamageNoted, at: Moment, context: Context) -> None:
    state.damage = (*state.damage, fact)
    if fact.severity >= 3:
        state.set_aside = (*state.set_aside, f"damage to its {fact.part}: {fact.text}")


def _damage_settled(state: CardState, fact: DamageSettled, at: Moment, context: Context) -> None:
    state.damage_settled = (*state.damage_settled, fact.damage)


def _health(state: CardState, fact: HealthRead, at: Moment, context: Context) -> None:
    state.health = fact
    if fact.verdict == "failing":
        state.set_aside = (*state.set_aside, f"its health reads as failing ({fact.tool})")


def _missing(state: CardState, fact: ReportedMissing, at: Moment, context: Context) -> None:
    state.missing = True


def _found(state: CardState, fact: Found, at: Moment, context: Context) -> None:
    state.missing = False


# Settled by a person


def _settled(state: CardState, fact: Settled, at: Moment, context: Context) -> None:
    for key, mishap in list(state.mishaps.items()):
        if key.fact == fact.target and key.kind == fact.mishap and _means(state, fact, key):
            state.mishaps[key] = Mishap(mishap.key, settled_by=fact.id)
            if key.kind == "copy_short":
                settle_short(state, key, context, at)
    if fact.mishap == "covered_no_more":
        for roll in list(state.all_closed()):
            if roll.wiped_by == fact.target and (fact.roll is None or fact.roll in roll.names):
                state.settled_losses = (*state.settled_losses, roll.id)


def _means(state: CardState, fact: Settled, key: Any) -> bool:
    if fact.drive is not None and key.drive != fact.drive:
        return False
    return fact.roll is None or key.roll is None or fact.roll in state.rolls[key.roll].names


_RULES: dict[type[CardFact], Callable[[CardState, Any, Moment, Context], None]] = {
    Registered: _registered,
    Relabelled: _relabelled,
    CheckedIn: _checked_in,
    Loaded: _loaded,
    Formatted: wiping.formatted,
    Pulled: _pulled,
    HandedOver: _handed_over,
    CopyStarted: copies.started,
    CopyFinished: copies.finished,
    CopyChecked: copies.checked,
    CopyFailed: copies.failed,
    CopyLost: copies.lost,
    RollRenamed: _renamed,
    DeclaredEmpty: _owes_nothing,
    WrittenOff: _owes_nothing,
    Received: _received,
    Cleared: clearing.cleared,
    ClearingWithdrawn: clearing.withdrawn,
    SetAside: _set_aside,
    ReturnedToService: _returned,
    DamageNoted: _damaged,
    DamageSettled: _damage_settled,
    HealthRead: _health,
    Retired: _retired,
    ReportedMissing: _missing,
    Found: _found,
    Settled: _settled,
}
