"""Making a plan: what is proposed, what somebody chose, what speaks against it, and the fact."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection

from tracker.domain import plans
from tracker.domain.permissions import Reason
from tracker.domain.plans import Choice, Line, Place
from tracker.services import acts_day
from tracker.services.acts import Obj
from tracker.services.as_drawn import AskAgain
from tracker.services.logging import Logged
from tracker.services.morning import MOST_SPARES, Morning, places
from tracker.services.service import Service, Who
from tracker.store import now_lists
from tracker.wire.faults import BadInput, Fault, nearest, shown

BY_HAND = "chosen by hand"
USUAL_SPARES = 1


@dataclass(frozen=True, slots=True)
class Warned:
    """A line whose card should not be loaded there, and why not."""

    line: Line
    reasons: tuple[Reason, ...]


def begin(seen: Morning) -> list[Line]:
    """The lines to begin with: those of today's plan, else what is proposed."""
    if seen.committed is None:
        return proposed(seen, usual_spares(seen))
    lines = {line.place: line for line, _ in seen.committed.lines}
    spares = Counter(place.camera for place in lines if place.spare)
    return [lines.get(p, Line(p, None, "")) for p in places(seen, spares)]


def usual_spares(seen: Morning) -> dict[str, int]:
    """How many spares each camera has: as many as in the plan before, else one."""
    if seen.before is None:
        return dict.fromkeys(seen.letters, USUAL_SPARES)
    lines = plans.lines_of(seen.before, seen.letters)
    counted = Counter(line.place.camera for line in lines if line.place.spare)
    return {letters: min(counted[letters], MOST_SPARES) for letters in seen.letters}


def proposed(seen: Morning, spares: Mapping[str, int]) -> list[Line]:
    """A card for each place: in it already, as the day before, else the least used that fits."""
    before, same_as = {}, "same as yesterday"
    if seen.before is not None:
        lines = plans.lines_of(seen.before, seen.letters)
        before = {line.place: line.card for line in lines if line.card is not None}
        if date.fromisoformat(seen.before.day) != seen.unit.day - timedelta(days=1):
            same_as = f"same as on {seen.before.day}"
    return plans.propose(
        places(seen, spares),
        _of_camera(seen),
        before,
        same_as=same_as,
        staying=_staying(seen),
        taken=seen.others,
    )


def _of_camera(seen: Morning) -> dict[str, Sequence[Choice]]:
    return {one.described.letters: one.choices for one in seen.cameras}


def _staying(seen: Morning) -> dict[Place, str]:
    """Cards that went in for today already."""
    found: dict[Place, str] = {}
    for one in seen.cameras:
        slots = [Place(one.described.letters, n + 1) for n in range(one.described.slots)]
        for card in one.inside:
            free = [slot for slot in slots if slot not in found]
            said = [slot for slot in free if slot.number == card.slot]
            if card.for_today and card.out is None and free:
                found[(said or free)[0]] = card.card
    return found


def chosen(seen: Morning, typed: Mapping[Place, str], spares: Mapping[str, int]) -> list[Line]:
    """The lines as somebody chose them, each with the reason that it has."""
    before = {line.place: line for line in begin(seen)}
    lines = []
    for place in places(seen, spares):
        label = typed.get(place, "").strip() or None
        known = before.get(place)
        same = known is not None and known.card == label
        reason = known.reason if known is not None and same else BY_HAND if label else ""
        lines.append(Line(place, label, reason))
    return lines


def warnings(seen: Morning, lines: Sequence[Line]) -> list[Warned]:
    """The lines whose card should not be loaded there."""
    known = {
        letters: {choice.label: choice for choice in choices}
        for letters, choices in _of_camera(seen).items()
    }
    found = []
    for line in lines:
        choice = known[line.place.camera].get(line.card or "")
        if choice is not None and choice.reasons:
            found.append(Warned(line, choice.reasons))
    return found


def faults(seen: Morning, lines: Sequence[Line]) -> list[Fault]:
    """What cannot be committed: no card at all, an unknown one, one in two places."""
    found: list[Fault] = []
    known = tuple(choice.label for choice in seen.cameras[0].choices)
    first: dict[str, Place] = {}
    for line in lines:
        if line.card is None:
            continue
        place, label = line.place.says, line.card
        if label not in known:
            expected = f"the label of a card{nearest(label, known)}"
            found.append(Fault("", None, place, shown(label), expected))
        elif label in first:
            says = f"{label}, which is also on the line of {first[label].says}"
            found.append(Fault("", None, place, says, "each card in one place only"))
        elif label in seen.others:
            says = f"{label}, which is also planned for {seen.others[label]}"
            expected = "each card in one place only: change that plan first"
            found.append(Fault("", None, place, says, expected))
        first.setdefault(label, line.place)
    if not first:
        found.append(Fault("", None, "plan", "no card", "a card for at least one slot"))
    return found


def commit(service: Service, who: Who, seen: Morning, lines: Sequence[Line], *, tap: str) -> Logged:
    """Commit a plan over the one that was seen.

    Errors: BadInput for a card in two places, or one that is not known; AskAgain if somebody
    committed another one since.
    """
    wrong = faults(seen, lines)
    if wrong:
        raise BadInput(wrong)
    against = {w.line.place: w.reasons for w in warnings(seen, lines)}
    said = [_said(line, against.get(line.place, ())) for line in lines if line.card is not None]
    unit = seen.unit

    def check(conn: Connection) -> None:
        plan = plans.plan_of_day(now_lists.plans(conn), unit.unit, seen.letters, unit.day)
        if (None if plan is None else plan.id) != seen.plan_id:
            raise AskAgain("Another plan of this day was committed since.")

    return acts_day.commit_plan(service, who, unit.day, said, unit=unit.unit, tap=tap, check=check)


def _said(line: Line, against: Sequence[Reason]) -> Obj:
    place = {"spare": True} if line.place.spare else {"slot": line.place.number}
    reason = line.reason
    if against:
        reason = f"{BY_HAND}, although {'; '.join(r.says for r in against)}"
    return {
        "card": line.card,
        "camera": line.place.camera,
        **place,
        **({"reason": reason} if reason else {}),
    }
