"""What came of a tap: told from the journal, so that it is what was logged."""

from __future__ import annotations

from dataclasses import dataclass

from tracker.domain.facts import CardFact, DriveFact, Fact
from tracker.domain.sentences import sentence
from tracker.services.acts import beside, kept_fact
from tracker.services.acts_back import my_last
from tracker.services.service import Service, Who
from tracker.store import journal

MOST_BESIDE = 60
"""Facts of one tap that are told; a count of a whole case is one fact."""


@dataclass(frozen=True, slots=True)
class Told:
    """What one tap logged. says: sentences, each with its subject. mine: it can be taken back."""

    says: tuple[str, ...]
    mine: bool


def is_known(service: Service, tap: str) -> bool:
    """Whether the journal holds the fact of a tap."""
    with service.store.reading() as conn:
        return kept_fact(conn, tap) is not None


def told(service: Service, who: Who, tap: str) -> Told | None:
    """What a tap logged; None if it logged nothing."""
    ids = [tap, *(beside(tap, number) for number in range(MOST_BESIDE))]
    with service.store.reading() as conn:
        facts = journal.facts_by_id(conn, ids)
    if not facts:
        return None
    last = {fact.id for fact in my_last(service, who)}
    return Told(
        tuple(_told(subject, fact) for subject, fact in facts),
        mine=any(fact.id in last for _, fact in facts),
    )


def last(service: Service, who: Who) -> tuple[str, ...]:
    """What somebody's last tap logged that still counts, in sentences; none if there is none."""
    mine = [fact.id for fact in my_last(service, who)]
    with service.store.reading() as conn:
        found = journal.facts_by_id(conn, mine)
    return tuple(_told(subject, fact) for subject, fact in found)


def _told(subject: str, fact: Fact) -> str:
    if isinstance(fact, DriveFact):
        # It names its drive itself.
        return sentence(fact)
    named = fact.card if isinstance(fact, CardFact) else subject.rpartition("/")[2].capitalize()
    return f"{named}: {sentence(fact)}"
