"""The rows as the journal has them, folded anew: what `audit` compares with and `rebuild` writes.

Cards go piece by piece, so that a journal of a million facts need not be held at once. Mirrors go
last, since they hang on the main rolls of other cards.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy import Connection, func, select

from tracker.domain.card import CardState
from tracker.domain.facts import END, FACTS, CardFact, CopyFact, DriveVoided
from tracker.domain.fold import drives_named, fold, main_cover, mirrors_of
from tracker.domain.rule import Context
from tracker.store import tables as t
from tracker.store.around import Around, drive_row, read_around, with_mains
from tracker.store.journal import facts_of, facts_with
from tracker.store.labels import label_rows, naming_of_journal
from tracker.store.rows import Row, camera_row, card_row, copy_rows, mishap_row, roll_row, table

FACTS_AT_ONCE = 20_000
COPIES = tuple(kind.event for kind in FACTS if issubclass(kind, CopyFact))

Rows = dict[type[t.Base], list[Row]]
Facts = Mapping[str, Sequence[CardFact]]


@dataclass(frozen=True, slots=True)
class Piece:
    """Rows that belong together. cards: those that they are of; None: they are whole tables."""

    cards: Sequence[str] | None
    rows: Rows


def expected_rows(conn: Connection) -> Iterator[Piece]:
    """Every row that follows from the journal, those that others point to first.

    Nothing but the journal, its subjects and the production's own row is read.
    """
    production = conn.execute(select(table(t.Production))).one()
    around = read_around(conn, production, _drives_rested_on(conn))
    drives = [drive_row(drive) for drive in around.context.drives.values()]
    cameras = [camera_row(camera) for camera in around.cameras.values()]
    yield Piece(None, {t.Drive: drives, t.Camera: cameras})
    naming = naming_of_journal(conn)
    anew = _Anew(conn, around, naming.keep)
    for ids in _in_pieces(conn):
        yield anew.plain(ids)
    for ids in _in_pieces(conn, anew.mirrors):
        yield anew.mirrored(ids)
    yield Piece(None, {t.Label: label_rows(naming.labels)})


def _drives_rested_on(conn: Connection) -> set[str]:
    """The drives that copies are on; asked only if it matters, since all of them are read."""
    targets = {
        fact.target for _, fact in facts_with(conn, "voided") if isinstance(fact, DriveVoided)
    }
    if not any(fact.id in targets for _, fact in facts_with(conn, "drive_registered")):
        return set()
    return drives_named(fact for _, fact in facts_with(conn, *COPIES))


def _in_pieces(conn: Connection, only: Iterable[str] | None = None) -> Iterator[list[str]]:
    """The ids of cards, so many at a time that their facts can be held."""
    asked = (
        select(t.Entry.subject, func.count())
        .join(t.Subject, t.Subject.id == t.Entry.subject)
        .where(t.Subject.kind == "card")
        .group_by(t.Entry.subject)
        .order_by(t.Entry.subject)
    )
    wanted = None if only is None else set(only)
    piece: list[str] = []
    facts = 0
    for card_id, count in conn.execute(asked).all():
        if wanted is not None and card_id not in wanted:
            continue
        if piece and facts + count > FACTS_AT_ONCE:
            yield piece
            piece, facts = [], 0
        piece.append(card_id)
        facts += count
    if piece:
        yield piece


@dataclass(slots=True)
class _Anew:
    """Folds cards anew, and notes what the mirrors will ask for.

    keep: facts that no void takes back. mirrors: cards that wait for the main rolls of theirs.
    mains: the cards that have a main roll of a name.
    """

    conn: Connection
    around: Around
    keep: frozenset[str]
    mirrors: list[str] = field(default_factory=list)
    mains: dict[str, set[str]] = field(default_factory=dict)

    def plain(self, ids: Sequence[str]) -> Piece:
        """The rows of those of some cards that have no mirrors."""
        facts = self._facts(ids)
        states = self._fold(facts, self.around.context)
        for state in states.values():
            self._note_mains(state)
        waiting = [card_id for card_id in ids if mirrors_of(states[card_id])]
        self.mirrors += waiting
        there = {i: state for i, state in states.items() if i not in waiting}
        return Piece(list(there), rows_of(there, facts, self.around.context))

    def mirrored(self, ids: Sequence[str]) -> Piece:
        """The rows of some cards that have mirrors."""
        facts = self._facts(ids)
        states = self._fold(facts, self.around.context)
        names = {roll.name for state in states.values() for roll in mirrors_of(state)}
        others = self._facts({i for name in names for i in self.mains.get(name, ())} - set(ids))
        everything = {**facts, **others}
        cards = {**states, **self._fold(others, self.around.context)}
        mains, main_rolls = main_cover(
            cards, everything, self.around.context, self.around.changes, self.keep
        )
        context = with_mains(self.around, mains, main_rolls)
        return Piece(list(ids), rows_of(self._fold(facts, context), facts, context))

    def _facts(self, ids: Iterable[str]) -> dict[str, list[CardFact]]:
        read = facts_of(self.conn, sorted(ids))
        return {i: [f for f in facts if isinstance(f, CardFact)] for i, facts in read.items()}

    def _fold(self, facts: Facts, context: Context) -> dict[str, CardState]:
        return {i: fold(of, context, card_id=i, keep=self.keep) for i, of in facts.items()}

    def _note_mains(self, state: CardState) -> None:
        for roll in state.rolls.values():
            if roll.loaded_as in ("main", "continues"):
                for name in roll.names:
                    self.mains.setdefault(name, set()).add(state.card_id)


def rows_of(states: Mapping[str, CardState], facts: Facts, context: Context) -> Rows:
    """The rows of some cards. One whose registration was taken back has none."""
    cards = [state for state in states.values() if state.registered is not None]
    rolls = [(state, roll) for state in cards for roll in state.rolls.values()]
    return {
        t.Card: [card_row(state, context) for state in cards],
        t.Roll: [roll_row(state, roll, context) for state, roll in rolls],
        t.Copy: [row for _, roll in rolls for row in copy_rows(roll, context, END)],
        t.Mishap: [mishap_row(state, key) for state in cards for key in state.mishaps],
        t.Use: [
            {"drive": drive, "card": state.card_id}
            for state in cards
            for drive in sorted(_drives_of(facts[state.card_id]))
        ],
    }


def _drives_of(facts: Iterable[CardFact]) -> set[str]:
    """The drives that facts name, whether those facts count or not."""
    copies = [fact for fact in facts if isinstance(fact, CopyFact)]
    named = {fact.drive for fact in copies}
    parents = {getattr(fact, "made_from", None) for fact in copies}
    return named | {label for label in parents if label is not None}
