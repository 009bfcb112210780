"""A roll, its figures and its copies: what is backed up, and what is lost if it is not.

A roll is one filling of one card in one camera. A copy is that roll on one drive: an attempt
under way, or a finish that stands, or the way in which the last of them ended.

Whether a copy *counts* is decided in `rule.py`; here is only what happened to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

from tracker.domain.facts import Level, LoadedAs, Moment


class Figure(NamedTuple):
    """A number that somebody gave. measured: counted by a reader; otherwise typed."""

    value: int | float
    measured: bool


class Figures(NamedTuple):
    """What is known of a filling or of a copy: bytes, clips, seconds of footage."""

    bytes: Figure | None = None
    clips: Figure | None = None
    seconds: Figure | None = None


UNKNOWN = Figures()


def figures(
    bytes_: int | None, clips: int | None, seconds: float | None, *, measured: bool
) -> Figures:
    """The figures of one fact, which are all measured or all typed."""
    return Figures(
        None if bytes_ is None else Figure(bytes_, measured),
        None if clips is None else Figure(clips, measured),
        None if seconds is None else Figure(seconds, measured),
    )


def better(a: Figure | None, b: Figure | None) -> Figure | None:
    """Of two figures for the same filling: measured beats typed, else the greater stands."""
    if a is None or b is None:
        return b if a is None else a
    if a.measured != b.measured:
        return a if a.measured else b
    return a if a.value >= b.value else b


def merged(a: Figures, b: Figures) -> Figures:
    """Two counts of the same filling, made one."""
    return Figures(better(a.bytes, b.bytes), better(a.clips, b.clips), better(a.seconds, b.seconds))


def falls_short(of: Figure | None, known: Figure | None) -> bool:
    """Whether `of` is less than `known` allows.

    Measured figures are compared exactly; where either was typed, short means less than 0.98 of
    the other (two in a hundred: common practice, no source).
    """
    if of is None or known is None or of.value >= known.value:
        return False
    if of.measured and known.measured:
        return True
    return of.value * 100 < known.value * 98


class Check(NamedTuple):
    """One check of a copy. believed: its proof need not be kept here."""

    level: Level
    proof: str | None
    believed: bool


class Finish(NamedTuple):
    """A copy that was finished (or checked without a finish, which counts as one).

    fact: the fact that finished it. rolls: all that this one finish covered, this roll too.
    fillings: the filling of each of those rolls, so that a later one is not compared with it.
    made_from: a drive's label, or None for the card. parent: the finish on that drive it was
    made from, None if there was none. proved: how it turned out bad, proved_by: by which fact.
    settled: figures known when a person settled that it is short; only greater ones matter since.
    replaced_by: the finish that went on with this copy, if its figures were replaced.
    """

    fact: str
    at: Moment
    drive: str
    figures: Figures = UNKNOWN
    rolls: tuple[str, ...] = ()
    fillings: tuple[int, ...] = ()
    made_from: str | None = None
    parent: str | None = None
    checks: tuple[Check, ...] = ()
    proved: Literal["short", "differs"] | None = None
    proved_by: str | None = None
    settled: Figures | None = None
    short: bool = False
    replaced_by: str | None = None


class Attempt(NamedTuple):
    """A copy under way."""

    fact: str
    at: Moment
    made_from: str | None


Ending = Literal["failed", "short", "differs", "lost"]


class Copy(NamedTuple):
    """One roll on one drive, as it stands.

    attempt: under way. finish: the fact id of the finish that stands (in `Roll.finishes`).
    ended: how the last one ended, if neither stands, and ended_at when; was: that one, whose
    figures are still known.
    """

    drive: str
    attempt: Attempt | None = None
    finish: str | None = None
    ended: Ending | None = None
    was: str | None = None
    ended_at: Moment | None = None


class Before(NamedTuple):
    """What was true of a roll at its last pull, when it was resumed since."""

    figures: Figures
    declared_empty: bool
    written_off: bool
    verdict: Literal["good", "bad"] | None
    known_before: tuple[Figures, ...]


@dataclass(slots=True)
class Roll:
    """One filling of one card in one camera.

    id: the fact that opened it. names: every name it has had, the present one last. guessed:
    nobody confirmed the name. loaded: the last time that it went into the camera; loaded_by: the
    fact that put it there; said_in: the last time that somebody said it is in. position: how
    many rolls were opened before it on the card. fillings: how often it was closed. closed: None
    while it is in the camera. implied_by: the fact that closed it, if not a pull. parted_from:
    the roll of which it is the rest, if the camera formatted while that was resumed;
    parted_drives: where copies of that had been begun.

    given: the figures of its pulls since it was loaded; figures: those, and where they say
    nothing, what it held before. before: what was true of it at its last pull, if resumed since.
    known_before: what copies held of it then and earlier: it holds no less.

    copies: of what it holds now, by drive. earlier: of what it held when it was last pulled, if
    it was resumed since; `outdated` among them are of an even earlier filling.

    wiped: when it went from the card. covered_when_wiped: whether the rule of that moment was
    met; main_covered_when_wiped: for a mirror, whether its main roll met it.
    """

    id: str
    names: tuple[str, ...]
    camera: str | None
    loaded_as: LoadedAs
    opened: Moment
    loaded: Moment
    loaded_by: str
    said_in: Moment
    position: int = 0
    guessed: bool = False
    slot: int | None = None
    body: str | None = None
    recording: str | None = None
    formatted_since_load: bool = False
    fillings: int = 0
    resumed: bool = False
    parted_from: str | None = None
    parted_drives: tuple[str, ...] = ()
    closed: Moment | None = None
    last_closed: Moment | None = None
    implied_by: str | None = None
    figures: Figures = UNKNOWN
    given: Figures = UNKNOWN
    before: Before | None = None
    known_before: tuple[Figures, ...] = ()
    scenes: tuple[str, ...] | None = None
    declared_empty: bool = False
    written_off: bool = False
    verdict: Literal["good", "bad"] | None = None
    copies: dict[str, Copy] = field(default_factory=dict)
    finishes: dict[str, Finish] = field(default_factory=dict)
    earlier: dict[str, Copy] = field(default_factory=dict)
    outdated: tuple[str, ...] = ()
    wiped: Moment | None = None
    wiped_by: str | None = None
    covered_when_wiped: bool = False
    main_covered_when_wiped: bool | None = None

    @property
    def name(self) -> str:
        """The name it goes by."""
        return self.names[-1]

    @property
    def bytes(self) -> int:
        """Bytes of footage that its last pull gave; 0 where none did (see `figures`)."""
        known = self.figures.bytes
        return 0 if known is None else int(known.value)

    def fork(self) -> Roll:
        """Another roll of the same contents, for a state that will change it."""
        return replace(
            self,
            copies=dict(self.copies),
            finishes=dict(self.finishes),
            earlier=dict(self.earlier),
        )

    def finish_on(self, drive: str) -> Finish | None:
        """The finish that stands on a drive, of what the roll holds now."""
        copy = self.copies.get(drive)
        return None if copy is None or copy.finish is None else self.finishes[copy.finish]

    def copied_alone(self, but: str | None = None) -> list[Figures]:
        """Figures of its copies, whatever became of them; one of several rolls says nothing.

        Those of what it held before it was resumed count too. but: the finish to leave out.
        """
        there = [*self.copies.values(), *self.earlier.values()]
        kept = [copy.finish or copy.was for copy in there]
        made = [self.finishes[fact] for fact in kept if fact is not None and fact != but]
        return [one.figures for one in made if len(one.rolls) == 1]

    def standing(self) -> Iterator[Finish]:
        """Every finish that stands, of what the roll holds now."""
        for copy in self.copies.values():
            if copy.finish is not None:
                yield self.finishes[copy.finish]


def says_more_than_zero(given: Figures) -> bool:
    """Whether bytes or clips say that something is there."""
    return any(f is not None and f.value > 0 for f in (given.bytes, given.clips))


def is_empty(roll: Roll) -> bool:
    """Whether a closed roll is known to hold nothing.

    A reader that counted zero is believed, and a data manager who declares it empty, unless a
    measured figure or a finished copy says more than zero. A typed zero is not.
    """
    size, clips = roll.figures.bytes, roll.figures.clips
    for figure in (size, clips):
        if figure is not None and figure.measured and figure.value > 0:
            return False
    first = size if size is not None else clips
    counted_zero = first is not None and first.measured
    if not (roll.declared_empty or counted_zero):
        return False
    copied = [*roll.copied_alone(), *roll.known_before]
    return not any(says_more_than_zero(one) for one in copied)


def owes(roll: Roll) -> bool:
    """Whether a roll must be backed up before its card may be formatted.

    An open roll always owes: nobody knows yet what is on it.
    """
    if roll.closed is None:
        return True
    return not (roll.written_off or is_empty(roll))
