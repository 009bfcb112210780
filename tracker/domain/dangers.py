"""What is in danger, told once: the mishaps of a card and roll taken together.

Footage that may be lost stands first; then what could still be lost; then what was mended since
and only waits for a person to settle it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tracker.domain.facts import END, CardFact, Moment, moment
from tracker.domain.mishaps import KINDS, SEVERITIES, Mishap
from tracker.domain.status import CardView

_WORST_FIRST = {kind: rank for rank, kind in enumerate(KINDS)}
_LOST = ("formatted_uncovered", "found_empty", "covered_no_more", "left_uncovered")


@dataclass(frozen=True, slots=True)
class Danger:
    """Mishaps of one card and one roll (or of the card alone), the worst first.

    covered: whether the roll meets the backup rule by now; None where no roll is meant.
    """

    card: str
    roll: str | None
    mishaps: tuple[Mishap, ...]
    covered: bool | None
    at: Moment

    @property
    def says(self) -> str:
        """What happened, in one sentence."""
        said = dict.fromkeys(mishap.kind.says for mishap in self.mishaps)
        return "; ".join(said)

    @property
    def to_do(self) -> str:
        """What to do now."""
        worst = self.mishaps[0]
        if self.covered and worst.key.kind in _LOST:
            return "It has its copies by now. Look at them, and settle this with a reason."
        return worst.kind.to_do

    @property
    def rank(self) -> int:
        """The lower, the worse."""
        if self.covered is False:
            return 0 if self.mishaps[0].key.kind in _LOST else 1
        return 2


def dangers(
    cards: Iterable[CardView], facts: dict[str, CardFact], *, severity: str = "danger"
) -> list[Danger]:
    """Every standing mishap of a severity, taken together by card and roll.

    facts: the facts that made them, by id.
    """
    assert severity in SEVERITIES
    found: list[Danger] = []
    for card in cards:
        below = {roll.id for roll in card.below} | {roll.id for roll in card.uncovered}
        together: dict[str | None, list[Mishap]] = {}
        for mishap in card.mishaps:
            if mishap.severity == severity:
                together.setdefault(mishap.key.roll, []).append(mishap)
        for roll_id, mishaps in together.items():
            mishaps.sort(key=lambda m: _WORST_FIRST[m.key.kind])
            roll = None if roll_id is None else card.state.rolls[roll_id].name
            covered = None if roll_id is None else roll_id not in below
            made = [facts[m.key.fact] for m in mishaps if m.key.fact in facts]
            at = min((moment(fact) for fact in made), default=END)
            found.append(Danger(card.label, roll, tuple(mishaps), covered, at))
    return sorted(found, key=lambda d: (d.rank, d.at, d.card))
