"""What is in danger, told once: the mishaps of a card and roll taken together.

Footage that may be lost stands first; then what could still be lost; then what was mended since
and only waits for a person to settle it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tracker.domain.facts import END, CardFact, Cleared, Moment, moment
from tracker.domain.mishaps import KINDS, SEVERITIES, Mishap
from tracker.domain.status import CardView

_WORST_FIRST = {kind: rank for rank, kind in enumerate(KINDS)}
_IN_NO_COPY = ("formatted_late",)
"""Of these no copy says anything: what was shot before a late format is in no roll."""

_LOST = ("formatted_uncovered", *_IN_NO_COPY, "found_empty", "covered_no_more", "left_uncovered")
_HAS_COPIES = "It has its copies by now. Look at them, and settle this with a reason."
_MENDED = {"post_says_bad": "Post says by now that it is good. Settle this with a reason."}


@dataclass(frozen=True, slots=True)
class Danger:
    """Mishaps of one card and one roll (or of the card alone), the worst first.

    covered: whether the roll meets the backup rule by now; None where no roll is meant, and while
    it is being shot. promise: the clearing against the rule for which something was promised.
    """

    card: str
    roll: str | None
    mishaps: tuple[Mishap, ...]
    covered: bool | None
    at: Moment
    promise: Cleared | None = None

    @property
    def says(self) -> str:
        """What happened, in one sentence."""
        said = dict.fromkeys(mishap.kind.says for mishap in self.mishaps)
        return "; ".join(said)

    @property
    def mended(self) -> bool:
        """Whether nothing is in danger any more, so that it only waits to be settled.

        The copies of a roll mend what was wrong with it, but not what may be lost in none of them.
        """
        return self.covered is True and not self._in_no_copy

    @property
    def _in_no_copy(self) -> list[Mishap]:
        return [mishap for mishap in self.mishaps if mishap.key.kind in _IN_NO_COPY]

    @property
    def to_do(self) -> str:
        """What to do now."""
        worst = self.mishaps[0]
        if worst.severity != "danger":
            return worst.kind.to_do
        if self.mended:
            return _MENDED.get(worst.key.kind, _HAS_COPIES)
        return self._in_no_copy[0].kind.to_do if self.covered else worst.kind.to_do

    @property
    def rank(self) -> int:
        """The lower, the worse: footage may be lost, or may yet be; last what was mended."""
        if self.mended:
            return 2
        return 0 if any(mishap.key.kind in _LOST for mishap in self.mishaps) else 1


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
            shot = roll_id == card.state.opened and roll_id not in below
            covered = None if roll_id is None or shot else roll_id not in below
            made = [facts[m.key.fact] for m in mishaps if m.key.fact in facts]
            at = min((moment(fact) for fact in made), default=END)
            danger = Danger(card.label, roll, tuple(mishaps), covered, at, promised(made))
            found.append(danger)
    return sorted(found, key=lambda d: (d.rank, d.at, d.card))


def promised(made: Iterable[object]) -> Cleared | None:
    """The clearing, among the facts that made a danger, for which something was promised."""
    return next((fact for fact in made if isinstance(fact, Cleared) and fact.promise), None)
