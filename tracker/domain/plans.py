"""The plan of a morning: which card goes to which camera, what speaks against it, what is proposed.

What a card should not be loaded for is a warning (see `permissions.may_load`): facts are never
refused, and a plan is one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from tracker.domain.facts import END, CameraSet, Moment, PlanCommitted, moment
from tracker.domain.fitness import fitness
from tracker.domain.needs import loss
from tracker.domain.permissions import Reason, may_clear, may_load
from tracker.domain.rule import Context
from tracker.domain.status import CardView

OF_ONE_CAMERA = ("media", "too slow")
"""Reasons that speak against one camera, and not against every one."""

AT_HAND = ("body", "file system")
"""Reasons that the usual format in the camera settles: told, and no warning."""

FREE = ("ready", "cleared")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a card may go: a slot of a camera, or its spares, each counted from 1."""

    camera: str
    number: int
    spare: bool = False

    @property
    def says(self) -> str:
        """The place in words."""
        return f"camera {self.camera}, {self.name}"

    @property
    def name(self) -> str:
        """The place within its camera."""
        return f"{'spare' if self.spare else 'slot'} {self.number}"


def no_such_slot(camera: CameraSet, slot: int | None) -> str:
    """What is wrong with a slot that a camera does not have; "" if it has it, or none is named."""
    if slot is None or 1 <= slot <= camera.slots:
        return ""
    has = "one slot" if camera.slots == 1 else f"{camera.slots} slots, counted from 1"
    return f"camera {camera.letters} has {has}, and no slot {slot}"


@dataclass(frozen=True, slots=True)
class Choice:
    """A card, as one camera's choice. reasons: why not, none if it fits. notes: what else to know.

    fillings: how often it was filled. free_since: when it was formatted or cleared; None if
    unknown. here: the card is in this camera now. watched: it is to be watched, see `fitness`.
    """

    label: str
    status: str
    reasons: tuple[Reason, ...]
    notes: tuple[str, ...]
    fillings: int
    free_since: Moment | None
    here: bool
    watched: bool

    @property
    def fits(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.reasons

    @property
    def free(self) -> bool:
        """Whether it fits, and waits to be used."""
        return self.fits and self.status in FREE


def choices(
    camera: CameraSet,
    cards: Iterable[CardView],
    context: Context,
    fillings: Mapping[str, int],
    out: Mapping[str, str],
) -> list[Choice]:
    """Every card as a choice for a camera: those that fit first, the least used of them first.

    fillings: by card id. out: cards that are probably out of their camera, by label, with what
    makes one think so.
    """
    made = [_choice(camera, card, context, fillings, out) for card in cards]
    return sorted(made, key=_order)


def _order(choice: Choice) -> tuple[bool, bool, bool, bool, int, Moment, str]:
    return (
        not choice.fits,
        any(reason.code == "media" for reason in choice.reasons),
        choice.status not in FREE,
        choice.watched,
        choice.fillings,
        choice.free_since or END,
        choice.label,
    )


def _choice(
    camera: CameraSet,
    card: CardView,
    context: Context,
    fillings: Mapping[str, int],
    out: Mapping[str, str],
) -> Choice:
    here = card.status == "loaded" and card.camera == camera.letters
    reasons, by_formatting = against(camera, card, context, out)
    notes = [f"{r.says}: {r.settles}" for r in by_formatting if not here]
    fit = fitness(card.state)
    watched = fit.verdict in ("watch", "failing")
    return Choice(
        label=card.label,
        status=card.status,
        reasons=reasons,
        notes=(*notes, *(f"to be watched: {why}" for why in fit.reasons if watched)),
        fillings=fillings.get(card.state.card_id, 0),
        free_since=_free_since(card),
        here=here,
        watched=watched,
    )


def against(
    camera: CameraSet, card: CardView, context: Context, out: Mapping[str, str]
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    """Why a card should not go into a camera, and why it has to be formatted there first.

    The second is settled by the usual format in the camera. out: as of `choices`.
    """
    here = card.status == "loaded" and card.camera == camera.letters
    said = may_load(card.state, camera, context)
    whole = [_whole(r, card, context) for r in said if r.code not in AT_HAND]
    at_hand = tuple(r for r in said if r.code in AT_HAND)
    return (*_against_any(card, context, here=here, out=out), *whole), at_hand


def _whole(reason: Reason, card: CardView, context: Context) -> Reason:
    """A reason that names a roll, with what its copies still lack."""
    if reason.code != "uncovered":
        return reason
    lacks = (r for r in may_clear(card.state, context) if r.roll == reason.roll)
    says = "; ".join([reason.says, *(r.says for r in lacks if r.code != "hold")])
    return replace(reason, says=says)


def _against_any(
    card: CardView, context: Context, *, here: bool, out: Mapping[str, str]
) -> list[Reason]:
    """What speaks against loading a card anywhere, besides what `may_load` says."""
    if card.status == "retired":
        return []
    told = ("visiting", "unseen") if here else ("visiting", "unseen", "loaded")
    found = [reason for reason in may_clear(card.state, context) if reason.code in told]
    if card.status == "backed up" and not card.state.visiting:
        found.append(Reason("not cleared", "everything on it is covered", "clear it"))
    if (lost := loss(card)) is not None:
        found.append(Reason("lost", lost.says, lost.to_do))
    if here and card.label in out:
        settles = "log it as pulled, or as loaded again if it is in"
        found.append(Reason("probably out", out[card.label], settles))
    return found


def _free_since(card: CardView) -> Moment | None:
    if card.status not in FREE:
        return None
    known = [card.state.clearing.at] if card.state.clearing is not None else []
    if card.state.last_format is not None:
        known.append(card.state.last_format.at)
    return max(known, default=None)


# What is proposed


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a plan. card: None while nothing is chosen. reason: why this card."""

    place: Place
    card: str | None
    reason: str


def propose(
    places: Sequence[Place],
    of_camera: Mapping[str, Sequence[Choice]],
    before: Mapping[Place, str],
    *,
    same_as: str,
    staying: Mapping[Place, str],
    taken: Collection[str] = (),
) -> list[Line]:
    """A card for each place, none of them twice: slots are served before spares.

    before: the cards of the plan before, by place. same_as: what a line from it is called.
    staying: cards that went in for today already. taken: cards that are planned elsewhere.
    """
    used = {*taken, *staying.values()}
    chosen = {place: (card, "in it already") for place, card in staying.items()}
    for place in places:
        free = {choice.label for choice in of_camera[place.camera] if choice.free}
        card = before.get(place)
        if place not in chosen and card in free and card is not None and card not in used:
            used.add(card)
            chosen[place] = (card, same_as)
    for place in sorted(places, key=lambda one: one.spare):
        if place in chosen:
            continue
        found = next((c for c in of_camera[place.camera] if c.free and c.label not in used), None)
        if found is not None:
            used.add(found.label)
            chosen[place] = (found.label, f"fewest fillings ({found.fillings})")
    return [Line(p, *chosen.get(p, (None, "no card that fits is ready"))) for p in places]


# What was committed


def plan_of_day(
    plans: Iterable[PlanCommitted], unit: str, cameras: Collection[str], day: date
) -> PlanCommitted | None:
    """The plan that was committed last for a unit's day; None if there is none."""
    of_day = [p for p in _of_unit(plans, unit, cameras) if p.day == day.isoformat()]
    return max(of_day, key=moment, default=None)


def plan_before(
    plans: Iterable[PlanCommitted], unit: str, cameras: Collection[str], day: date
) -> PlanCommitted | None:
    """The plan of the last day before that has one."""
    earlier = [p for p in _of_unit(plans, unit, cameras) if p.day < day.isoformat()]
    return max(earlier, key=lambda p: (p.day, moment(p)), default=None)


def _of_unit(
    plans: Iterable[PlanCommitted], unit: str, cameras: Collection[str]
) -> list[PlanCommitted]:
    """Those of a unit; a plan that names none is of the units whose cameras are in it."""
    return [
        plan
        for plan in plans
        if plan.unit == unit
        or (plan.unit is None and any(line["camera"] in cameras for line in plan.lines))
    ]


def lines_of(plan: PlanCommitted, cameras: Collection[str]) -> list[Line]:
    """The lines of a plan that are about some cameras; one without a slot takes the next free."""
    found: list[Line] = []
    used: set[Place] = set()
    for line in plan.lines:
        camera, spare = line["camera"], line.get("spare") is True
        if camera not in cameras:
            continue
        slot = line.get("slot")
        place = Place(camera, slot if type(slot) is int and slot > 0 else 1, spare)
        while place in used:
            place = Place(camera, place.number + 1, spare)
        used.add(place)
        reason = line.get("reason")
        found.append(Line(place, line["card"], reason if isinstance(reason, str) else ""))
    return found


@dataclass(frozen=True, slots=True)
class Since:
    """What became of a planned line. apart: the card is elsewhere than planned. roll: its roll.

    keep: it holds a roll that is not backed up, besides the one being shot.
    """

    says: str
    apart: bool
    roll: str | None = None
    keep: bool = False


def since_planned(
    line: Line, planned: Moment, cards: Iterable[CardView], out: Collection[str] = ()
) -> Since:
    """Where the card of a committed line is now."""
    card = next((c for c in cards if line.card in c.state.labels), None)
    if card is None:
        return Since(f"no card has the label {line.card}", apart=True)
    keep = bool(card.uncovered)
    opened = card.state.open_roll()
    if card.status == "loaded" and opened is not None:
        name = f"{opened.name}?" if opened.guessed else opened.name
        if card.label in out:
            return Since("probably out", True, name, keep=True)
        return Since(f"in camera {card.camera}", card.camera != line.place.camera, name, keep)
    for roll in reversed(card.state.closed_rolls()):
        if roll.camera == line.place.camera and roll.loaded > planned:
            return Since("was in, and is out again", False, roll.name, keep)
    if card.status in FREE:
        return Since("not loaded yet", apart=False, keep=keep)
    word = "shot, not copied" if card.status == "exposed" else card.status
    return Since(f"status: {word}", apart=True, keep=keep)
