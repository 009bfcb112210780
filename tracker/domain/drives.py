"""What happened to a drive, asked at any moment: where it is, and what on it still stands."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from tracker.domain.facts import (
    START,
    DriveEmptied,
    DriveFact,
    DriveFailed,
    DriveFound,
    DriveKind,
    DriveLost,
    DriveMoved,
    DrivePlace,
    DriveRegistered,
    DriveReturned,
    Moment,
    moment,
)


class DriveState(NamedTuple):
    """A drive at one moment.

    emptied: the last time that everything on it went (emptied or returned), or None. What was
    finished before then is gone. A failed, lost or returned drive holds no copy that counts.
    """

    place: DrivePlace
    holder: str | None = None
    seal: str | None = None
    emptied: Moment | None = None
    failed: bool = False
    lost: bool = False
    returned: bool = False

    @property
    def usable(self) -> bool:
        """Whether what is on it can be had."""
        return not self.why_not

    @property
    def why_not(self) -> str:
        """Why what is on it cannot be had, after the drive's label; "" if it can."""
        if self.returned:
            return "went back"
        if self.lost:
            return "is lost"
        return "does not work" if self.failed else ""

    @property
    def where(self) -> str:
        """Where it is, as far as anybody can say."""
        if self.returned:
            return "went back"
        return f"lost, last {self.place}" if self.lost else self.place


class Drive:
    """The whole life of one drive, in order.

    label, kind, capacity_bytes and enclosure count from the start, whenever it was registered.
    """

    def __init__(self, registered: DriveRegistered, facts: Iterable[DriveFact]) -> None:
        self.label = registered.drive
        self.registered = registered
        self.kind: DriveKind = registered.kind
        self.capacity_bytes = registered.capacity_bytes
        self.enclosure = registered.enclosure or registered.drive
        self.moments: list[Moment] = [START]
        self.states: list[DriveState] = [DriveState(registered.place)]
        for fact in sorted(facts, key=moment):
            state = _after(self.states[-1], fact)
            if state is not self.states[-1]:
                self.moments.append(moment(fact))
                self.states.append(state)
        self._quiet = len(self.states) == 1

    def at(self, at: Moment) -> DriveState:
        """The drive as it was at a moment."""
        if self._quiet:
            return self.states[0]
        return self.states[bisect_right(self.moments, at) - 1]


def _after(state: DriveState, fact: DriveFact) -> DriveState:
    """What a fact makes of a drive."""
    match fact:
        case DriveMoved():
            return state._replace(place=fact.place, holder=fact.holder, seal=fact.seal)
        case DriveEmptied():
            return state._replace(emptied=moment(fact))
        case DriveFailed():
            return state._replace(failed=True)
        case DriveLost():
            return state._replace(lost=True)
        case DriveFound():
            return state._replace(lost=False)
        case DriveReturned():
            return state._replace(returned=True, emptied=moment(fact))
    return state


def drives_of(facts: Sequence[DriveFact]) -> dict[str, Drive]:
    """Every drive by label. Of two registrations of one label the first logged one counts.

    Facts about a drive that nobody registered are left out: they must be refused beforehand.
    """
    by_label: dict[str, list[DriveFact]] = {}
    registered: dict[str, DriveRegistered] = {}
    for fact in facts:
        by_label.setdefault(fact.drive, []).append(fact)
        if isinstance(fact, DriveRegistered):
            known = registered.get(fact.drive)
            if known is None or _logged(fact) < _logged(known):
                registered[fact.drive] = fact
    return {label: Drive(registered[label], by_label[label]) for label in registered}


def _logged(fact: DriveRegistered) -> tuple[object, ...]:
    return (fact.logged_at, fact.origin, fact.id)
