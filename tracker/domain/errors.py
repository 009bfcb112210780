"""What the domain refuses to work with.

    CardwrightError
    ├── UnknownLabel      no card or drive had that label at that time
    ├── LabelInUse        a label is live on one card at a time
    └── Misnamed          all facts whose labels mean nothing, each with one of the above

Facts are never refused for what they say about a card: they make a mishap instead. These
errors are about facts that cannot be understood at all.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


class CardwrightError(Exception):
    """The root of every error that a person may have to read."""


class UnknownLabel(CardwrightError):
    """A fact names a card or a drive that nobody registered.

    nearest: the labels that look most like it, the likeliest first. found and expected complete
    "found ..., expected ...".
    """

    def __init__(self, kind: str, label: str, known: Iterable[str]) -> None:
        self.kind = kind
        self.label = label
        self.nearest = tuple(get_close_matches(label, sorted(set(known)), n=3, cutoff=0.6))
        hint = f" (the nearest: {', '.join(self.nearest)})" if self.nearest else ""
        self.found = repr(label)
        self.expected = f"the label of a {kind} that is registered{hint}"
        super().__init__(f"no {kind} has the label {label!r}{hint}")


class LabelInUse(CardwrightError):
    """A card was to be given a label that another card has."""

    def __init__(self, label: str) -> None:
        self.label = label
        self.found = repr(label)
        self.expected = "a label that is on no other card at that time"
        super().__init__(f"the label {label!r} is on another card; it can be on one at a time")


class Misnamed(CardwrightError):
    """Facts that name cards or drives that nobody knows.

    found: (id of the fact, name of the field at fault, what is wrong), in the order given.
    """

    def __init__(self, found: list[tuple[str, str, UnknownLabel | LabelInUse]]) -> None:
        self.found = found
        more = f", and {len(found) - 1} more" if len(found) > 1 else ""
        super().__init__(f"{found[0][2]}{more}")
