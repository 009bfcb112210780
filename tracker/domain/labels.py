"""Which card a label means: as it stood at the time of the fact.

A label is on one card at a time. A registration counts from the start, whatever its time; that of
a label which another card gave up counts from then. After `relabelled` the old label finds the
card in its history only, and may be used again.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from tracker.domain.errors import LabelInUse, UnknownLabel
from tracker.domain.facts import CardFact, Registered, Relabelled

EVER = datetime.min.replace(tzinfo=UTC)


class Labels:
    """Every label, the cards that had it, and from when to when.

    A card is named by the id of the fact that registered it.
    """

    def __init__(self) -> None:
        self._spans: dict[str, list[tuple[datetime, datetime | None, str]]] = {}
        self._cards: set[str] = set()
        self._relabelled: dict[str, str] = {}
        self._unknown: dict[str, UnknownLabel] = {}

    @classmethod
    def kept(cls, spans: Iterable[tuple[str, datetime, datetime | None, str]]) -> Labels:
        """Labels as they were kept: (label, since, until, card id)."""
        labels = cls()
        for label, since, until, card_id in spans:
            labels._spans.setdefault(label, []).append((since, until, card_id))
            labels._cards.add(card_id)
        return labels

    def spans(self) -> list[tuple[str, datetime, datetime | None, str]]:
        """Every label with the card that had it, since when and until when."""
        return [
            (label, since, until, card_id)
            for label, spans in self._spans.items()
            for since, until, card_id in spans
        ]

    def register(self, fact: Registered) -> bool:
        """Take a card in. False if its label is on a card already: it is said twice."""
        spans = self._spans.setdefault(fact.card, [])
        if any(until is None for _, until, _ in spans):
            return False
        since = max((until for _, until, _ in spans if until is not None), default=EVER)
        spans.append((since, None, fact.id))
        self._cards.add(fact.id)
        return True

    def relabel(self, fact: Relabelled) -> None:
        """Give the card another label from the time of the fact.

        Errors: UnknownLabel if no card had the old one, LabelInUse if another has the new one.
        """
        card_id = self.card(fact.card, fact.occurred_at)
        self._relabelled[fact.id] = card_id
        spans = self._spans.setdefault(fact.new_label, [])
        if any(until is None and card != card_id for _, until, card in spans):
            raise LabelInUse(fact.new_label)
        if fact.new_label == fact.card:
            return
        self._spans[fact.card] = [
            (since, fact.occurred_at if until is None and card == card_id else until, card)
            for since, until, card in self._spans[fact.card]
        ]
        spans.append((fact.occurred_at, None, card_id))

    def card(self, label: str, at: datetime) -> str:
        """The id of the card that had a label at a time.

        A label that nobody had before is taken to mean the card that got it first.
        Errors: UnknownLabel.
        """
        spans = self._spans.get(label, ())
        for since, until, card_id in spans:
            if since <= at and (until is None or at < until):
                return card_id
        first = min(spans, default=None, key=lambda span: span[0])
        if first is not None and at < first[0]:
            return first[2]
        if label not in self._unknown:
            self._unknown[label] = UnknownLabel("card", label, self.live())
        raise self._unknown[label]

    def card_of(self, fact: CardFact) -> str:
        """The id of the card that a fact is about. Errors: UnknownLabel."""
        return self._relabelled.get(fact.id) or self.card(fact.card, fact.occurred_at)

    def live(self) -> list[str]:
        """The labels that are on a card."""
        return [
            label
            for label, spans in self._spans.items()
            if any(until is None for _, until, _ in spans)
        ]

    def is_card(self, card_id: str) -> bool:
        """Whether a registration took a card in, and did not just say one again."""
        return card_id in self._cards

    def known(self, label: str) -> bool:
        """Whether any card has, or had, the label."""
        return label in self._spans


Found = list[tuple[str, str, UnknownLabel | LabelInUse]]


def labels_of(facts: Iterable[CardFact], found: Found, kept: Labels | None = None) -> Labels:
    """The labels after facts that are to be taken together: registrations first.

    Registrations and new labels go in the order in which they were logged, since a label can
    only be used again after it was given up. found: what is wrong with them is added to it.
    kept: labels that there are already; they are changed.
    """
    labels = kept or Labels()
    naming = [fact for fact in facts if isinstance(fact, Registered | Relabelled)]
    pending: list[Relabelled] = []
    for fact in sorted(naming, key=lambda f: (f.logged_at, f.origin, f.id)):
        if isinstance(fact, Registered):
            labels.register(fact)
            ready = [later for later in pending if labels.known(later.card)]
            pending = [later for later in pending if later not in ready]
        else:
            ready = [fact] if labels.known(fact.card) else []
            pending += [] if ready else [fact]
        for relabelled in ready:
            _relabel(labels, relabelled, found)
    for fact in pending:
        _relabel(labels, fact, found)
    return labels


def _relabel(labels: Labels, fact: Relabelled, found: Found) -> None:
    try:
        labels.relabel(fact)
    except UnknownLabel:
        # It is found again, and said once, when its card is asked for.
        return
    except LabelInUse as error:
        found.append((fact.id, "new_label", error))
