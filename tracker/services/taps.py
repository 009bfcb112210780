"""What came of a tap: told from the journal, so that it is what was logged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from tracker.domain.facts import AnyVoid, CardFact, Fact
from tracker.domain.sentences import sentence
from tracker.services.acts import beside, kept_fact
from tracker.services.acts_back import my_last
from tracker.services.service import Service, Who, production_row
from tracker.store import journal

MOST_BESIDE = 60
"""Facts of one tap that are told; a count of a whole case is one fact."""


@dataclass(frozen=True, slots=True)
class Told:
    """What one tap logged. says: sentences, each with its subject; none where nothing is new.

    mine: it can be taken back; fact: the id of one of its facts, by which that is asked for.
    """

    says: tuple[str, ...]
    mine: bool
    fact: str


def is_known(service: Service, tap: str) -> bool:
    """Whether the journal holds the fact of a tap."""
    with service.store.reading() as conn:
        return kept_fact(conn, tap) is not None


def told(service: Service, who: Who, tap: str) -> Told | None:
    """What a tap logged; None if it logged nothing."""
    ids = [tap, *(beside(tap, number) for number in range(MOST_BESIDE))]
    with service.store.reading() as conn:
        facts = journal.facts_by_id(conn, ids)
        beside_them = _taken_back(conn, facts)
        zone = ZoneInfo(production_row(conn).time_zone)
    if not facts:
        return None
    last = {fact.id for fact in my_last(service, who)}
    mine = [fact.id for _, fact in facts if fact.id in last]
    says = tuple(_told(fact, beside_them, zone) for _, fact in facts)
    return Told(says, mine=bool(mine), fact=mine[0] if mine else facts[0][1].id)


def last(service: Service, who: Who) -> Told | None:
    """What somebody's last tap logged that still counts; None if there is none."""
    mine = [fact.id for fact in my_last(service, who)]
    if not mine:
        return None
    with service.store.reading() as conn:
        found = journal.facts_by_id(conn, mine)
        beside_them = _taken_back(conn, found)
        zone = ZoneInfo(production_row(conn).time_zone)
    return Told(tuple(_told(fact, beside_them, zone) for _, fact in found), mine=True, fact=mine[0])


def _taken_back(conn: Connection, facts: Sequence[tuple[str, Fact]]) -> dict[str, Fact]:
    """What some of these took back, and what that took back in turn, by id."""
    found: dict[str, Fact] = {}
    wanted = {fact.target for _, fact in facts if isinstance(fact, AnyVoid)}
    while wanted:
        more = {fact.id: fact for _, fact in journal.facts_by_id(conn, wanted)}
        found |= more
        wanted = {fact.target for fact in more.values() if isinstance(fact, AnyVoid)} - set(found)
    return found


def _told(fact: Fact, beside_it: Mapping[str, Fact], zone: tzinfo) -> str:
    """Only a card is named before its sentence: what else it is about stands in it."""
    said = sentence(fact, beside_it, zone)
    return f"{fact.card}: {said}" if isinstance(fact, CardFact) else said
