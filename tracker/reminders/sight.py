"""What the rules speak of at a moment, read from the rows: the production is not folded each time.

A process keeps what it read, and reads anew only the cards of which something was logged. Where
something around the cards changed (drives, rules, proofs), all rows are compared with what was
read, and every card is judged anew.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from threading import Lock
from typing import Any
from weakref import WeakKeyDictionary

from sqlalchemy import Connection

from tracker.domain.card import CardState
from tracker.domain.facts import START, CardFact, Fact
from tracker.domain.fold import Production
from tracker.domain.labels import Labels
from tracker.domain.rolls import Roll
from tracker.domain.status import CardView, view
from tracker.reminders.limits import Chosen
from tracker.reminders.rules import RULES, Condition, due
from tracker.reminders.seen import Seen, see
from tracker.services.service import Service, production_row
from tracker.store import reminder_reading as reading
from tracker.store.around import Around, with_mains
from tracker.store.engine import Store
from tracker.store.states import mishap, read_card

log = logging.getLogger(__name__)

Key = tuple[str, str]
"""A condition: its subject and its rule."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What the rules speak of at a moment, due or not.

    zone: the production's. unknown: rules that could not be asked; nothing is known then of what
    they spoke of before.
    """

    at: datetime
    zone: tzinfo
    conditions: Mapping[Key, Condition]
    unknown: frozenset[str] = frozenset()


@dataclass(slots=True)
class _Card:
    """A card as it was read. seen: as it stands; None where it must be looked at anew."""

    rows: reading.Rows
    state: CardState
    facts: Sequence[CardFact] = ()
    seen: CardView | None = None


@dataclass(slots=True)
class _Kept:
    """What one process read of a database."""

    cards: dict[str, _Card] = field(default_factory=dict)
    versions: dict[str, int] = field(default_factory=dict)
    around: Around | None = None
    days: Sequence[Fact] = ()
    production: Production | None = None
    views: Sequence[CardView] = ()
    sight: tuple[Chosen, Sight] | None = None
    lock: Lock = field(default_factory=Lock)


_KEPT: WeakKeyDictionary[Store, _Kept] = WeakKeyDictionary()
_KEPT_LOCK = Lock()


def look(service: Service, conn: Connection, now: datetime, chosen: Chosen) -> Sight:
    """What the rules speak of now, by all that is known. Errors: NotSetUp."""
    with _KEPT_LOCK:
        kept = _KEPT.setdefault(service.store, _Kept())
    with kept.lock:
        try:
            changed = _refresh(service, conn, kept)
        except Exception:
            # Half of it may have been taken over: begin again from the rows.
            kept.cards, kept.around, kept.sight = {}, None, None
            raise
        before = kept.sight
        if not changed and before is not None and before[0] == chosen and before[1].at == now:
            return before[1]
        assert kept.production is not None
        sight = _asked(see(kept.production, now, chosen, kept.views), now)
        kept.sight = (chosen, sight)
        return sight


def _asked(seen: Seen, now: datetime) -> Sight:
    """Every rule by itself: one that fails keeps nobody from hearing of the others."""
    found: dict[Key, Condition] = {}
    unknown = set()
    for rule in RULES:
        try:
            found.update((one.key, one) for one in due(seen, rule, now))
        except Exception:
            log.exception("the rule %r could not be asked", rule.name)
            unknown.add(rule.name)
    return Sight(now, seen.production.context.zone, found, frozenset(unknown))


def _refresh(service: Service, conn: Connection, kept: _Kept) -> bool:
    """Bring what was read up to date; whether anything was not."""
    around = service.memory.look(conn, production_row(conn))
    versions = reading.versions(conn)
    same_world = kept.around is around
    if same_world and versions == kept.versions:
        return False
    changed = [name for name, count in versions.items() if kept.versions.get(name) != count]
    mirrors = reading.mirrors(conn)
    # A card with mirrors hangs on other cards, so that its own facts do not tell.
    some = {*changed, *(mirror.card for mirror in mirrors)} if same_world else None
    _take_over(kept, reading.cards(conn, some), some)
    if some is None or some:
        facts = reading.facts_asked_for(conn, some)
        for card_id in kept.cards if some is None else some & kept.cards.keys():
            kept.cards[card_id].facts = facts.get(card_id, ())
    if not same_world:
        for card in kept.cards.values():
            card.seen = None
    if not kept.days or any(name.startswith("unit/") for name in changed):
        kept.days = reading.days(conn)
    _judge(kept, around, mirrors)
    kept.versions, kept.around = versions, around
    return True


def _take_over(kept: _Kept, rows: Mapping[str, reading.Rows], asked: set[str] | None) -> None:
    """Take over the rows that are not as they were read before. asked: for which; None for all."""
    read = set(kept.cards) if asked is None else asked & kept.cards.keys()
    for card_id in read - rows.keys():
        del kept.cards[card_id]
    for card_id, new in rows.items():
        known = kept.cards.get(card_id)
        if known is None or known.rows != new:
            made = [mishap(*one) for one in new.mishaps]
            state = read_card(new.state, new.rolls, made, _not_there)
            # Every roll of it was read: nothing has to be fetched.
            state.rolls = dict(state.rolls)
            kept.cards[card_id] = _Card(new, state)


def _not_there(roll_id: str) -> Roll:
    raise KeyError(roll_id)


def _judge(kept: _Kept, around: Around, mirrors: Iterable[Any]) -> None:
    """Every card as it stands, and the production that they make."""
    mains = {one.id: [(START, bool(one.covered))] for one in mirrors if one.main is not None}
    main_rolls = {one.id: one.main for one in mirrors if one.main is not None}
    context = with_mains(around, mains, main_rolls)
    with_mirrors = {one.card for one in mirrors}
    for card_id, card in kept.cards.items():
        if card.seen is None or card_id in with_mirrors:
            card.seen = view(card.state, context)
    views = [card.seen for card in kept.cards.values() if card.seen is not None]
    kept.views = sorted(views, key=lambda one: (one.label, one.state.card_id))
    kept.production = Production(
        context=context,
        labels=Labels(),
        cards={card_id: card.state for card_id, card in kept.cards.items()},
        facts={card_id: card.facts for card_id, card in kept.cards.items()},
        cameras=around.cameras,
        plans=(),
        others=list(kept.days),
        kept=frozenset(),
    )
