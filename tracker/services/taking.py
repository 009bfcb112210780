"""Facts that may be taken: each finds its subject, goes into the journal, and the rows follow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from contextlib import suppress
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, update

from tracker.domain.card import KEPT
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import (
    END,
    START,
    CameraSet,
    CardFact,
    DriveRegistered,
    Fact,
    Moment,
    Registered,
    Relabelled,
    RuleSet,
    UnitFact,
    Voided,
    moment,
)
from tracker.domain.fold import drives_named, unknown_drives
from tracker.domain.labels import Found, labels_of
from tracker.domain.rule import acts_from
from tracker.services.reels import keep_reels, reels_anew
from tracker.services.said import AtFault, Logged, Said
from tracker.services.service import production_row
from tracker.services.voiding import (
    any_unregistered,
    card_gone,
    cards_there,
    drop_cards,
    labels_anew,
    taken_back,
)
from tracker.store import codes, journal
from tracker.store import tables as t
from tracker.store.around import Around, about_the_world, drives_in_use, read_around, write_around
from tracker.store.bodies import Ready
from tracker.store.journal import New
from tracker.store.labels import labels_for, read_labels, write_labels
from tracker.store.projection import follow_world, note_use, project

NAMING = {"registered", "relabelled"}


def changes_world(fact: Fact) -> bool:
    """As `about_the_world`; a fact of a card that is taken back changes that card only."""
    return about_the_world(fact) and not isinstance(fact, CardFact | UnitFact)


# Finding subjects


def check(
    conn: Connection,
    fresh: Sequence[tuple[Said, Ready]],
    around: Around,
    logged: Logged,
    faults: AtFault,
) -> list[New]:
    """The facts, each with its subject; what names nothing known is noted, and left out.

    So is what says once more, in other words, that a card or a drive is here.
    """
    facts = [made.fact for _, made in fresh]
    drives = set(around.context.drives)
    named = {fact.drive for fact in facts if isinstance(fact, DriveRegistered)}
    subjects = _Subjects(conn, facts, drives)
    subjects.found += unknown_drives(facts, drives | named)
    found = [(made, subjects.of(made.fact)) for _, made in fresh]
    wrong = {fact_id for fact_id, _, _ in subjects.found}
    if wrong:
        places = {made.fact.id: one for one, made in fresh}
        for fact_id, word, error in subjects.found:
            faults.add(places[fact_id], word, error)
    new = []
    for made, subject in found:
        fact = made.fact
        if fact.id in wrong:
            continue
        if subject is None:
            logged.again.append(fact.id)
        else:
            known = replace(fact, card_id=subject) if isinstance(fact, KEPT) else fact
            new.append(New(known, subject, made))
    return new


class _Subjects:
    """What each of some facts is about. found: which are about nothing known, and why.

    What a person takes back in these facts counts: from then on the old label finds its card
    again. What was said until then, and the taking back itself, go by the new one.
    """

    def __init__(self, conn: Connection, facts: Sequence[Fact], drives: set[str]) -> None:
        self.found: Found = []
        self._conn = conn
        self._drives = drives
        self._gone: dict[str, str] = {}
        self._until: set[str] = set()
        of_cards = [fact for fact in facts if isinstance(fact, CardFact)]
        given = any(isinstance(fact, Registered | Relabelled) for fact in of_cards)
        self._labels = read_labels(conn) if given else labels_for(conn, of_cards)
        in_use: Found = []
        if given:
            labels_of(of_cards, in_use, self._labels)
        self._left = self._labels
        if self._names_anew(of_cards):
            in_use = self._take_back(of_cards)
        self.found += in_use

    def of(self, fact: Fact) -> str | None:
        """The subject; None if it is said again in other words, or is about nothing known."""
        if not isinstance(fact, CardFact):
            if isinstance(fact, DriveRegistered):
                if fact.drive in self._drives:
                    return None
                self._drives.add(fact.drive)
            return journal.subject_of(fact)
        if isinstance(fact, Registered):
            return fact.id if self._labels.is_card(fact.id) else None
        try:
            return self._card(fact)
        except UnknownLabel as error:
            self.found.append((fact.id, "card", error))
            return None

    def _card(self, fact: CardFact) -> str:
        if fact.id in self._gone:
            return self._gone[fact.id]
        if fact.id in self._until:
            first, second = self._labels, self._left
        else:
            first, second = self._left, self._labels
        try:
            return first.card_of(fact)
        except UnknownLabel:
            return second.card_of(fact)

    def _names_anew(self, facts: Sequence[CardFact]) -> bool:
        """Whether a void may give a card its label back, or take one away."""
        voids = [fact for fact in facts if isinstance(fact, Voided)]
        if not voids:
            return False
        known = {fact.id: fact for fact in facts}
        for void in voids:
            card = None if void.target in known else card_gone(self._conn, void)
            if card is not None:
                self._gone[void.id] = card
        return bool(self._gone) or not NAMING.isdisjoint(taken_back(self._conn, voids, known))

    def _take_back(self, facts: Sequence[CardFact]) -> Found:
        """Find the labels without what is taken back; what is wrong with them then."""
        voids = [n for n, fact in enumerate(facts) if isinstance(fact, Voided)]
        self._until = {facts[n].id for n in (*range(voids[0]), *voids)}
        more = []
        for fact in facts:
            with suppress(UnknownLabel):
                ours = fact.id if isinstance(fact, Registered) else self._card(fact)
                more.append((ours, fact))
        self._left, found = labels_anew(self._conn, more)
        said = {fact.id for fact in facts}
        void = facts[voids[0]].id
        return [(i, word, e) if i in said else (void, "target", e) for i, word, e in found]


# Into the journal, and the rows


def take(
    conn: Connection, production: Any, new: Sequence[New], around: Around, logged: Logged
) -> None:
    """Add facts to the journal, and bring the rows up to date."""
    if not new:
        return
    journal.add(conn, new)
    facts = [one.fact for one in new]
    logged.new += facts
    named = [one.subject for one in new if isinstance(one.fact, Registered | DriveRegistered)]
    codes.allot(conn, named)
    world = [fact for fact in facts if changes_world(fact)]
    around = _new_world(conn, production, facts) if world else around
    by_card: dict[str, list[CardFact]] = {}
    for one in new:
        if isinstance(one.fact, CardFact):
            by_card.setdefault(one.subject, []).append(one.fact)
    gone = taken_back(conn, facts)
    there = cards_there(conn, by_card) if gone else set()
    project(conn, by_card, around, stepping=not world)
    if gone and (gone & NAMING or any_unregistered(conn, by_card) or there < by_card.keys()):
        _names_anew(conn, by_card, there)
    elif any(isinstance(fact, Registered | Relabelled) for fact in facts):
        _names_on(conn, facts)
    if world:
        follow_world(conn, around, world, _earliest(world, around), done=by_card)
    if gone & {"loaded", "roll_renamed"}:
        reels_anew(conn)
    keep_reels(conn, facts)


def _names_on(conn: Connection, facts: Sequence[Fact]) -> None:
    """Write the labels as they are after new ones were given."""
    of_cards = [fact for fact in facts if isinstance(fact, Registered | Relabelled)]
    write_labels(conn, labels_of(of_cards, [], read_labels(conn)))


def _names_anew(conn: Connection, by_card: Mapping[str, object], there: Set[str]) -> None:
    """Write the labels without what was taken back. there: the cards that had rows before."""
    labels, _ = labels_anew(conn)
    write_labels(conn, labels)
    drop_cards(conn, [card_id for card_id in by_card if not labels.is_card(card_id)])
    back = [card_id for card_id in by_card if card_id not in there and labels.is_card(card_id)]
    known = journal.facts_of(conn, back)
    note_use(conn, {i: [f for f in of if isinstance(f, CardFact)] for i, of in known.items()})


def _new_world(conn: Connection, production: Any, new: Sequence[Fact]) -> Around:
    """Count on, and read the world around the cards anew, after facts were added."""
    count = production.context + 1
    conn.execute(update(t.Production).values(context=count))
    used = drives_in_use(conn) | drives_named(new)
    around = read_around(conn, production_row(conn), used)
    write_around(conn, around)
    return around


def _earliest(world: Sequence[Fact], around: Around) -> Moment:
    """From when the world is another: what is registered anew changes nothing that was.

    A rule that is now the first one counts from the start, in the place of another.
    """
    moments = []
    for fact in world:
        if isinstance(fact, RuleSet):
            acts = acts_from(fact)
            moments.append(acts if acts in around.context.rules.changes else START)
        elif fact.event == "voided":
            moments.append(START)
        elif not isinstance(fact, DriveRegistered | CameraSet):
            moments.append(moment(fact))
    return min(moments, default=END)
