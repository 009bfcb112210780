"""The status of a card: derived from the journal, exactly one at any time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from tracker.domain.card import CardState
from tracker.domain.clearing import clearing_stands
from tracker.domain.facts import END, Moment
from tracker.domain.mishaps import Mishap, MishapKey
from tracker.domain.rolls import Roll, is_empty, owes
from tracker.domain.rule import Context, covered, only_level_wanting, under_way

Status = Literal[
    "unseen",
    "ready",
    "loaded",
    "exposed",
    "copying",
    "copied",
    "backed up",
    "cleared",
    "set aside",
    "missing",
    "retired",
]
STATUSES: tuple[Status, ...] = get_args(Status)


def status(state: CardState, context: Context, at: Moment = END) -> Status:
    """The first that applies, the most urgent to know first."""
    if state.retired is not None:
        return "retired"
    if state.missing:
        return "missing"
    if state.set_aside:
        return "set aside"
    if state.opened is not None:
        return "loaded"
    owing = [roll for roll in state.closed_rolls() if owes(roll)]
    if owing:
        return _by_rolls(state, owing, context, at)
    if not state.seen:
        return "unseen"
    if state.visiting:
        return "backed up"
    return "ready" if state.last_format and state.last_format.in_camera else "cleared"


def _by_rolls(state: CardState, owing: list[Roll], context: Context, at: Moment) -> Status:
    stands = clearing_stands(state, context, at)
    if stands and state.clearing is not None and state.clearing.override:
        return "cleared"
    bare = [roll for roll in owing if not covered(roll, context, at)]
    if not bare:
        return "cleared" if stands else "backed up"
    if all(under_way(roll, context, at) for roll in bare):
        return "copying"
    if all(only_level_wanting(roll, context, at) for roll in bare):
        return "copied"
    return "exposed"


@dataclass(frozen=True, slots=True)
class CardView:
    """A card as people need to see it.

    holds: the rolls on it that count as held (empty and written-off ones do not), in order.
    uncovered: those of them that are lost if the card is, the open one too if the card is set
    aside, missing or retired. below: every closed roll it ever held that is below the rule.
    cycles: closed rolls that are not empty. bytes_logged: bytes of the closed rolls.
    """

    state: CardState
    status: Status
    camera: str | None
    holds: tuple[Roll, ...]
    uncovered: tuple[Roll, ...]
    below: tuple[Roll, ...]
    cycles: int
    bytes_logged: int
    mishaps: tuple[Mishap, ...]

    @property
    def label(self) -> str:
        """The card's label."""
        return self.state.label

    @property
    def in_danger(self) -> bool:
        """Whether footage is lost, or may be soon, as far as the facts say."""
        gone = self.status in ("missing", "set aside", "retired") and bool(self.uncovered)
        return gone or any(mishap.severity == "danger" for mishap in self.mishaps)


def view(
    state: CardState, context: Context, at: Moment = END, *, held_only: bool = False
) -> CardView:
    """A card as it stands at a moment; at END, as all that is known has it.

    held_only: look only at the rolls on the card, and leave out what the earlier ones add
    (below, cycles, bytes_logged, and mishaps that hang on what became of them).
    """
    now = status(state, context, at)
    opened = state.open_roll()
    held = [state.rolls[i] for i in state.held]
    uncovered = [roll for roll in held if roll is not opened and not covered(roll, context, at)]
    if opened is not None and now in ("set aside", "missing", "retired"):
        uncovered.append(opened)
    closed = [] if held_only else list(state.all_closed())
    return CardView(
        state=state,
        status=now,
        camera=None if opened is None else opened.camera,
        holds=tuple(roll for roll in held if owes(roll)),
        uncovered=tuple(uncovered),
        below=tuple(roll for roll in closed if not covered(roll, context, at)),
        cycles=sum(not is_empty(roll) for roll in closed),
        bytes_logged=sum(roll.bytes for roll in closed),
        mishaps=tuple(made_standing(state) if held_only else standing(state, context, at)),
    )


def made_standing(state: CardState) -> list[Mishap]:
    """The mishaps that facts made and nobody has settled."""
    return [mishap for mishap in state.mishaps.values() if mishap.stands]


def standing(state: CardState, context: Context, at: Moment = END) -> list[Mishap]:
    """The mishaps that stand, with those that hang on what became of wiped rolls since."""
    made = made_standing(state)
    for roll in state.rolls.values():
        if roll.wiped is None or not roll.covered_when_wiped or roll.wiped_by is None:
            continue
        if roll.id not in state.settled_losses and not covered(roll, context, at):
            made.append(Mishap(MishapKey(roll.wiped_by, "covered_no_more", roll.id)))
    return made
