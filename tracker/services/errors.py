"""What a service refuses, and why. Facts are recorded; what is refused is permission.

CardwrightError
├── Refused     permission is withheld: each reason says what would settle it
├── Conflict    an id was said before, with another body
└── NotSetUp    there is no production here yet, or there is one already
"""

from __future__ import annotations

from collections.abc import Sequence

from tracker.domain.errors import CardwrightError
from tracker.domain.permissions import Reason


class Refused(CardwrightError):
    """Permission is withheld. reasons: why, each with what would settle it."""

    def __init__(self, label: str, reasons: Sequence[Reason]) -> None:
        self.label = label
        self.reasons = tuple(reasons)
        why = "; ".join(f"{reason.says}: {reason.settles}" for reason in reasons)
        super().__init__(f"{label} may not be cleared: {why}")


class Conflict(CardwrightError):
    """A fact's id was said before, with another body."""

    def __init__(self, fact_id: str) -> None:
        self.fact_id = fact_id
        super().__init__(f"the id {fact_id} was said before, with another body: make a new id")


class NotSetUp(CardwrightError):
    """There is no production here yet, or one already."""
