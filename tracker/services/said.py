"""What is said to the service, what came of it, and all that is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from tracker.domain.errors import LabelInUse, UnknownLabel
from tracker.domain.facts import Fact
from tracker.services.errors import Conflict, Refused
from tracker.wire.faults import BadInput, Fault
from tracker.wire.rows import Rows, refuse

GIVES = {
    "registered": "card", "relabelled": "new_label", "drive_registered": "drive",
    "camera_set": "letters",
}  # fmt: skip
"""By which field an event makes a name known."""


@dataclass(slots=True)
class Said:
    """One thing that was said, with where it stands in a file. faults: of a line not readable."""

    obj: dict[str, Any]
    file: str = ""
    line: int | None = None
    faults: tuple[Fault, ...] = ()


@dataclass(slots=True)
class Logged:
    """What came of it. new: facts logged. again: ids said before. notices: for people."""

    new: list[Fact] = field(default_factory=list)
    again: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)


def said_in(rows: Iterable[Rows]) -> list[Said]:
    """What files say, in order. Errors: BadInput with the faults of reading."""
    said = heard_in(rows)
    refuse(fault for one in said for fault in one.faults)
    return said


def heard_in(rows: Iterable[Rows]) -> list[Said]:
    """As `said_in`, with what could not be read in its place: it is named with all the rest."""
    read = list(rows)
    faults = [Said({}, file.name, fault.line, (fault,)) for file in read for fault in file.faults]
    return [Said(obj, file.name, line) for file in read for line, obj in file.rows] + faults


Error = BadInput | UnknownLabel | LabelInUse | Conflict | Refused


class AtFault:
    """Everything that is wrong with what was said, so that every line at fault can be named.

    What has no line is not of a batch: for that the error itself is raised, at once where facts
    are taken one by one.
    """

    def __init__(self, said: Sequence[Said], *, one_by_one: bool) -> None:
        self._said = said
        self._alone = one_by_one or len(said) == 1
        self._found: list[tuple[Said, str, Error]] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, one: Said, word: str, error: Error) -> None:
        """Note what is wrong with one thing. word: the field at fault, where one is."""
        alone = self._alone and not isinstance(error, BadInput)
        if one.line is None and (alone or isinstance(error, Conflict)):
            raise error
        self._found.append((one, word, error))

    def names(self, card: Any) -> bool:
        """Whether a line at fault is about this card."""
        return any(one.obj.get("card") == card for one, _, _ in self._found)

    def refuse(self) -> None:
        """Errors: one for all that is wrong, if anything is.

        It is Refused if permission for one fact is all that is missing, else BadInput.
        """
        if len(self._found) == 1 and isinstance(self._found[0][2], Refused):
            raise self._found[0][2]
        order = {file: n for n, file in enumerate(dict.fromkeys(one.file for one in self._said))}
        found = sorted(self._found, key=lambda at_fault: order[at_fault[0].file])
        made = {one.obj.get(GIVES.get(str(one.obj.get("event")), "")) for one, _, _ in found}
        # What only a line at fault would have made known is not wrong by itself.
        own = [f for f in found if not (isinstance(f[2], UnknownLabel) and f[2].label in made)]
        refuse(fault for one, word, error in own or found for fault in _faults(one, word, error))


def _faults(one: Said, word: str, error: Error) -> list[Fault]:
    if isinstance(error, BadInput):
        return [replace(fault, file=one.file, line=one.line) for fault in error.faults]
    if isinstance(error, Conflict):
        expected = "the same fact again, or an id of its own"
        return [Fault(one.file, one.line, "id", "an id said before", expected)]
    if isinstance(error, Refused):
        expected = f"leave to clear {error.label}"
        return [
            Fault(one.file, one.line, "event", why.says, f"{expected}: {why.settles}")
            for why in error.reasons
        ]
    return [Fault(one.file, one.line, word, error.found, error.expected)]
