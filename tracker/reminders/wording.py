"""What a message says: its title, which counts what is in it, and its text. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from tracker.reminders.rules import Condition

AT_MOST = 50
"""So many things are told in full; of more only the number."""


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that is told of. missed: earlier notices of it that did not go out."""

    condition: Condition
    missed: int = 0


@dataclass(frozen=True, slots=True)
class Content:
    """What is in a message.

    things: danger first. settled: what is over, as (about, rule). notes: what stands on the list
    of the morning of a day; missed: mornings before it that had none.
    """

    production: str
    things: Sequence[Thing] = ()
    settled: Sequence[tuple[str, str]] = ()
    notes: Sequence[Thing] = ()
    day: date | None = None
    missed: int = 0

    @property
    def danger(self) -> bool:
        """Whether any of it is danger."""
        return any(thing.condition.severity == "danger" for thing in self.things)

    @property
    def nothing(self) -> bool:
        """Whether there is nothing to say."""
        return not (self.things or self.settled or self.notes)


def title(content: Content) -> str:
    """One line, with the count of what is in it."""
    parts = [*_things(content.things), *_settled(content.settled)]
    if content.notes:
        parts.append(f"list of the morning, {_count(len(content.notes))}")
    return f"{content.production}: {'; '.join(parts)}"


def _things(things: Sequence[Thing]) -> Iterator[str]:
    danger = sum(thing.condition.severity == "danger" for thing in things)
    if len(things) == 1:
        one = things[0].condition
        yield f"1 thing{', danger' if danger else ''}: {one.about}, {one.rule}"
    elif things:
        yield f"{len(things)} things{f', danger in {danger} of them' if danger else ''}"


def _settled(settled: Sequence[tuple[str, str]]) -> Iterator[str]:
    if len(settled) == 1:
        yield f"settled: {settled[0][0]}, {settled[0][1]}"
    elif settled:
        yield f"{len(settled)} things settled"


def _count(number: int) -> str:
    return "1 thing" if number == 1 else f"{number} things"


def body(content: Content) -> str:
    """Plain text: what is the matter and what to do, one thing after the other."""
    parts = list(_told(content.things))
    if content.settled:
        lines = [f"- {about}: {rule}" for about, rule in content.settled[:AT_MOST]]
        parts.append("\n".join(["Settled:", *lines, *_more(len(content.settled))]))
    if content.notes:
        day = "" if content.day is None else f" of {content.day}"
        parts.append(f"List of the morning{day}:{_mornings(content.missed)}")
        parts += _told(content.notes)
    return "\n\n".join(parts) + "\n"


def _told(things: Sequence[Thing]) -> Iterator[str]:
    for thing in things[:AT_MOST]:
        one = thing.condition
        mark = "DANGER. " if one.severity == "danger" else ""
        listed = [f"  - {line}" for line in one.lines]
        yield "\n".join([f"{mark}{one.says} {one.to_do}", *listed, *_before(thing.missed)])
    yield from _more(len(things))


def _before(missed: int) -> Iterator[str]:
    if missed:
        times = "once" if missed == 1 else f"{missed} times"
        yield f"  (It was due {times} before this, and was not sent then.)"


def _more(count: int) -> Iterator[str]:
    if count > AT_MOST:
        yield f"And {count - AT_MOST} more: see the page."


def _mornings(missed: int) -> str:
    if not missed:
        return ""
    return (
        " (1 list before it did not go out)"
        if missed == 1
        else (f" ({missed} lists before it did not go out)")
    )
