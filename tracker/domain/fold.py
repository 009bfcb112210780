"""Folding: from the facts as they were logged to what is true.

`fold` makes one card of its facts; `fold_production` takes everything that was logged and gives
every card, drive and rule. The order in which facts are presented does not matter: each carries
its own place in the order of what happened.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, time, tzinfo
from itertools import groupby
from operator import itemgetter

from tracker.domain.card import CardState
from tracker.domain.drives import drives_of
from tracker.domain.errors import Misnamed, UnknownLabel
from tracker.domain.facts import (
    END,
    FACTS,
    START,
    CameraSet,
    CardFact,
    CopyFact,
    DriveFact,
    DriveRegistered,
    Fact,
    Moment,
    PlanCommitted,
    ProofKept,
    Registered,
    Relabelled,
    RuleSet,
    Voided,
    moment,
)
from tracker.domain.labels import Found, Labels, labels_of
from tracker.domain.rolls import Roll
from tracker.domain.rule import BackupRule, Context, RuleBook, acts_from, covered
from tracker.domain.status import CardView, view
from tracker.domain.step import apply, apply_at, place
from tracker.domain.voids import effective, in_use_again, voided_by

Changes = list[tuple[Moment, bool]]

FOLD_VERSION = 1
"""Raised when the same facts may give another result: rows of an older one are rebuilt."""


def in_order(facts: Iterable[CardFact]) -> list[CardFact]:
    """Facts of one card in the order of folding: its registration, then as they happened."""
    return sorted(facts, key=place)


def fold(
    facts: Sequence[CardFact], context: Context, *, card_id: str = "", keep: Iterable[str] = ()
) -> CardState:
    """One card, from all the facts that were logged about it, voids among them."""
    state = CardState(card_id)
    counting = effective(facts, keep)
    for at, fact in sorted(zip(map(place, counting), counting, strict=True), key=itemgetter(0)):
        apply_at(state, fact, at, context)
    return state


def can_step(state: CardState, fact: CardFact) -> bool:
    """Whether a fact may be stepped to, or the card must be folded anew."""
    if fact.event == "voided":
        return False
    return state.last is None or place(fact) > state.last


@dataclass(frozen=True, slots=True)
class Production:
    """Everything that is true, as the facts of one production have it.

    cards: by card id. facts: what was logged about each card, voided facts among them.
    kept: ids of facts that cannot be voided.
    """

    context: Context
    labels: Labels
    cards: Mapping[str, CardState]
    facts: Mapping[str, Sequence[CardFact]]
    cameras: Mapping[str, CameraSet]
    plans: Sequence[PlanCommitted]
    others: Sequence[Fact]
    kept: frozenset[str]

    def views(self, at: Moment = END) -> list[CardView]:
        """Every card as it stands, by label."""
        states = sorted(self.cards.values(), key=lambda state: (state.label, state.card_id))
        return [view(state, self.context, at) for state in states]


def fold_production(
    facts: Iterable[Fact],
    *,
    rule: BackupRule | None = None,
    zone: tzinfo = UTC,
    day_starts: time = time(0),
    readable: frozenset[str] | None = None,
) -> Production:
    """All that was logged, folded.

    rule: the production's first backup rule; without one, the first that was set counts from the
    start, and without any the recommended one.
    Errors: Misnamed, for all facts that name a card or a drive that nobody registered.
    """
    everything = list(facts)
    kept = frozenset(in_use_again(everything))
    about_cards = [fact for fact in everything if isinstance(fact, CardFact)]
    drive_facts = effective_by_drive(
        [fact for fact in everything if isinstance(fact, DriveFact)], drives_named(about_cards)
    )
    others = effective([f for f in everything if not isinstance(f, CardFact | DriveFact)])
    found: Found = []
    labels, by_card = group_by_card(about_cards, found, kept)
    drives = drives_of(drive_facts)
    found += unknown_drives([*drive_facts, *about_cards], drives)
    if found:
        raise Misnamed(found)
    context = Context(
        drives=drives,
        rules=RuleBook((f for f in others if isinstance(f, RuleSet)), rule),
        zone=zone,
        day_starts=day_starts,
        proofs=proofs_kept(others),
        readable=readable,
    )
    cards = fold_cards(by_card, context, kept)
    if any(mirrors_of(state) for state in cards.values()):
        changes = context_moments(drive_facts, others)
        mains, main_rolls = main_cover(cards, by_card, context, changes, kept)
        context = replace(context, mains=mains, main_rolls=main_rolls)
        for card_id, state in cards.items():
            if mirrors_of(state):
                cards[card_id] = fold(by_card[card_id], context, card_id=card_id, keep=kept)
    cameras = [f for f in others if isinstance(f, CameraSet)]
    return Production(
        context=context,
        labels=labels,
        cards=cards,
        facts=by_card,
        cameras={f.letters: f for f in sorted(cameras, key=moment)},
        plans=sorted((f for f in others if isinstance(f, PlanCommitted)), key=moment),
        others=others,
        kept=kept,
    )


def fold_cards(
    by_card: Mapping[str, Sequence[CardFact]], context: Context, keep: Iterable[str] = ()
) -> dict[str, CardState]:
    """Every card by itself."""
    kept = frozenset(keep)
    return {
        card_id: fold(facts, context, card_id=card_id, keep=kept)
        for card_id, facts in by_card.items()
    }


def group_by_card(
    facts: Sequence[CardFact], found: Found, keep: Iterable[str] = ()
) -> tuple[Labels, dict[str, list[CardFact]]]:
    """The facts of each card, by the id of the fact that registered it.

    A registration of a label that a card has already is left out: it is said twice.
    found: facts whose labels mean nothing are left out and added to it.
    """
    gone = _names_taken_back(facts, frozenset(keep))
    labels = labels_of((fact for fact in facts if fact.id not in gone), found)
    # Facts under a label that was taken back are still about the card that had it then.
    old = {f.new_label: f.card for f in facts if isinstance(f, Relabelled) and f.id in gone}
    # Nothing that counts is left of a card whose registration was taken back.
    withdrawn = {f.card for f in facts if isinstance(f, Registered) and f.id in gone}
    by_card: dict[str, list[CardFact]] = {}
    for fact in facts:
        if isinstance(fact, Registered):
            if labels.is_card(fact.id):
                by_card.setdefault(fact.id, []).append(fact)
        elif fact.id not in gone and not (isinstance(fact, Voided) and fact.target in gone):
            try:
                by_card.setdefault(_card_of(labels, fact, old), []).append(fact)
            except UnknownLabel as error:
                if fact.card not in withdrawn:
                    found.append((fact.id, "card", error))
    return labels, by_card


def _card_of(labels: Labels, fact: CardFact, old: Mapping[str, str]) -> str:
    if fact.card in old and not labels.known(fact.card):
        return labels.card(old[fact.card], fact.occurred_at)
    return labels.card_of(fact)


def _names_taken_back(facts: Sequence[CardFact], keep: frozenset[str]) -> set[str]:
    """Registrations and new labels that a void took back, as far as nothing rests on them."""
    targets = {fact.target for fact in facts if isinstance(fact, Voided)}
    taken = set()
    for fact in facts:
        if fact.id not in targets or fact.id in keep:
            continue
        if isinstance(fact, Registered | Relabelled):
            own = {fact.card, getattr(fact, "new_label", fact.card)}
            if fact.id in voided_by(other for other in facts if other.card in own):
                taken.add(fact.id)
    return taken


def drives_named(facts: Iterable[Fact]) -> set[str]:
    """The drives that copies are on, or were made from."""
    named = {fact.drive for fact in facts if isinstance(fact, CopyFact)}
    sources = {getattr(fact, "made_from", None) for fact in facts}
    return named | {label for label in sources if label is not None}


def effective_by_drive(facts: Sequence[DriveFact], used: Iterable[str] = ()) -> list[DriveFact]:
    """The drives' facts that count, voids and what they took back left out.

    used: drives whose registration cannot be voided, since copies rest on it.
    """
    rests = frozenset(used)
    keep = {f.id for f in facts if isinstance(f, DriveRegistered) and f.drive in rests}
    ordered = sorted(facts, key=lambda fact: fact.drive)
    return [
        fact
        for _, group in groupby(ordered, key=lambda fact: fact.drive)
        for fact in effective(list(group), keep)
    ]


def unknown_drives(facts: Iterable[Fact], drives: Iterable[str]) -> Found:
    """Facts that name a drive which nobody registered."""
    found: Found = []
    drives = frozenset(drives)
    unknown: dict[str, UnknownLabel] = {}
    for fact in facts:
        for name, field in _DRIVES_IN[type(fact)]:
            label: str | None = getattr(fact, name)
            if label is not None and label not in drives:
                if label not in unknown:
                    unknown[label] = UnknownLabel("drive", label, drives)
                found.append((fact.id, field, unknown[label]))
    return found


_DRIVES_IN = {
    kind: tuple(
        (name, field)
        for name, field in (("drive", "drive"), ("made_from", "from"))
        if hasattr(kind, name)
    )
    for kind in FACTS
}
"""In which fields a fact names drives: the attribute, and its word on the wire."""


def proofs_kept(facts: Iterable[Fact]) -> dict[str, Moment]:
    """From which moment each proof has been kept here, by its SHA-256."""
    kept: dict[str, Moment] = {}
    for fact in facts:
        if isinstance(fact, ProofKept):
            kept[fact.sha256] = min(moment(fact), kept.get(fact.sha256, END))
    return kept


# Mirrors: whether their main roll was covered, over time


def mirrors_of(state: CardState) -> list[Roll]:
    """The mirror rolls that a card ever held."""
    return [roll for roll in state.rolls.values() if roll.loaded_as == "mirror"]


def context_moments(drive_facts: Iterable[DriveFact], others: Iterable[Fact]) -> list[Moment]:
    """When something beyond the cards may have changed what is covered."""
    moments = [moment(fact) for fact in drive_facts]
    moments += [moment(fact) for fact in others if isinstance(fact, ProofKept)]
    moments += [acts_from(fact) for fact in others if isinstance(fact, RuleSet)]
    return sorted(moments)


def main_cover(
    cards: Mapping[str, CardState],
    by_card: Mapping[str, Sequence[CardFact]],
    context: Context,
    changes: Sequence[Moment],
    keep: Iterable[str] = (),
) -> tuple[dict[str, Changes], dict[str, str]]:
    """For each mirror roll, when the main roll of its name was covered, and which that is.

    The main roll is the one of that name loaded nearest in time, on whichever card.
    """
    mains: dict[str, list[tuple[CardState, Roll]]] = {}
    for state in cards.values():
        for roll in state.rolls.values():
            if roll.loaded_as in ("main", "continues"):
                for name in roll.names:
                    mains.setdefault(name, []).append((state, roll))
    cover: dict[str, Changes] = {}
    main_rolls: dict[str, str] = {}
    traced: dict[str, dict[str, Changes]] = {}
    for state in cards.values():
        for mirror in mirrors_of(state):
            nearest = _nearest(mirror, mains.get(mirror.name, ()))
            if nearest is None:
                continue
            card_id, roll_id = nearest
            if card_id not in traced:
                traced[card_id] = _trace(card_id, by_card[card_id], context, changes, keep)
            cover[mirror.id] = traced[card_id].get(roll_id, [])
            main_rolls[mirror.id] = roll_id
    return cover, main_rolls


def _nearest(mirror: Roll, mains: Iterable[tuple[CardState, Roll]]) -> tuple[str, str] | None:
    def distance(entry: tuple[CardState, Roll]) -> tuple[float, str]:
        return (abs((entry[1].opened[0] - mirror.opened[0]).total_seconds()), entry[1].id)

    best = min(mains, key=distance, default=None)
    return None if best is None else (best[0].card_id, best[1].id)


def _trace(
    card_id: str,
    facts: Sequence[CardFact],
    context: Context,
    changes: Sequence[Moment],
    keep: Iterable[str],
) -> dict[str, Changes]:
    """When each main roll of a card was covered: looked at after each thing that may matter."""
    state = CardState(card_id)
    traced: dict[str, Changes] = {}
    waiting = list(changes)
    next_change = 0
    for fact in in_order(effective(facts, keep)):
        at = place(fact)
        upto = bisect_right(waiting, at)
        for change in waiting[next_change:upto]:
            _look(state, context, change, traced)
        next_change = upto
        apply(state, fact, context)
        _look(state, context, at, traced)
    for change in waiting[next_change:]:
        _look(state, context, change, traced)
    return traced


def _look(state: CardState, context: Context, at: Moment, traced: dict[str, Changes]) -> None:
    for roll in state.rolls.values():
        if roll.loaded_as in ("main", "continues"):
            seen = traced.setdefault(roll.id, [])
            now = covered(roll, context, at)
            if (seen[-1][1] if seen else False) != now:
                seen.append((max(at, START), now))
