"""What the domain refuses to work with.

    CardwrightError
    ├── UnknownLabel      no card or drive had that label at that time
    └── LabelInUse        a label is live on one card at a time

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

    `nearest` are the labels that look most like it, the likeliest first.
    """

    def __init__(self, kind: str, label: str, known: Iterable[str]) -> None:
        self.kind = kind
        self.label = label
        self.nearest = tuple(get_close_matches(label, sorted(set(known)), n=3, cutoff=0.6))
        hint = f"; the nearest are {', '.join(self.nearest)}" if self.nearest else ""
        super().__init__(f"no {kind} has the label {label!r}{hint}")


class LabelInUse(CardwrightError):
    """A card was to be given a label that another card has."""

    def __init__(self, label: str) -> None:
        self.label = label
        super().__init__(f"the label {label!r} is on another card; it can be on one at a time")
