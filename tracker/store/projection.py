"""From facts that were added to the rows that follow: stepped to where that is right, else folded.

A card is stepped from its kept state unless a fact is a void, or is earlier than one already
folded; a card with mirror rolls is folded, since it hangs on other cards.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Connection,
    Select,
    and_,
    bindparam,
    delete,
    func,
    insert,
    or_,
    select,
)
from sqlalchemy.orm import aliased

from tracker.domain.card import CardState
from tracker.domain.facts import (
    END,
    CardFact,
    CopyFact,
    CopyLost,
    Fact,
    Loaded,
    Moment,
    Settled,
)
from tracker.domain.fold import can_step, fold, in_order, main_cover, mirrors_of
from tracker.domain.mishaps import Mishap, MishapKey
from tracker.domain.rolls import Roll
from tracker.domain.rule import Context
from tracker.domain.step import apply
from tracker.domain.voids import in_use_again
from tracker.store import tables as t
from tracker.store.around import Around, with_mains
from tracker.store.coverage import refresh
from tracker.store.journal import facts_of, facts_with
from tracker.store.quick import Among, Quick
from tracker.store.rows import (
    card_row,
    copy_rows,
    forget,
    mishap_row,
    put_many,
    roll_row,
    table,
)
from tracker.store.states import mishap, read_card, read_roll
from tracker.store.types import moment_text

STEPS_AT_MOST = 25
"""More new facts of one card than this are folded with the rest: it is quicker."""


_OF_CARD: BindParameter[str] = bindparam("card_id")
_CARD = Quick(select(t.Card.state).where(t.Card.id == _OF_CARD))
_ROLLS = select(t.Roll.id, t.Roll.state).where(t.Roll.card == _OF_CARD).order_by(t.Roll.position)
_EVERY_ROLL = Quick(_ROLLS)
_SOME_ROLLS = Quick(_ROLLS.where(or_(t.Roll.held, Among(t.Roll.id, "also"))))
_ROLL = Quick(select(t.Roll.state).where(t.Roll.id == bindparam("roll")))
_MISHAPS = Quick(
    select(t.Mishap.fact, t.Mishap.kind, t.Mishap.roll, t.Mishap.drive, t.Mishap.settled_by).where(
        t.Mishap.card == _OF_CARD
    )
)
_MAIN = aliased(t.Roll)
_MIRRORS = Quick(
    select(t.Roll.card, t.Roll.name, _MAIN.card.label("main"))
    .outerjoin(_MAIN, _MAIN.id == t.Roll.main)
    .where(t.Roll.loaded_as == "mirror")
    .distinct()
)
_WRITE_CARD = Quick(
    table(t.Card)
    .update()
    .where(table(t.Card).c.id == _OF_CARD)
    .values({c.name: bindparam(c.name) for c in table(t.Card).columns if not c.primary_key})
)
_NO_COPIES = Quick(delete(table(t.Copy)).where(Among(table(t.Copy).c.roll, "rolls")))
_NO_ROLLS = Quick(delete(table(t.Roll)).where(Among(table(t.Roll).c.id, "rolls")))
_USERS = Quick(select(t.Use.card).where(t.Use.drive == bindparam("drive")))


def read_state(
    conn: Connection, card_id: str, *, rolls: Iterable[str] = (), whole: bool = False
) -> CardState | None:
    """A card as it is kept, with the rolls on it and those asked for; the others come by need."""
    kept = _CARD.scalar(conn, card_id=card_id)
    if kept is None:
        return None
    if whole:
        found = _EVERY_ROLL.all(conn, card_id=card_id)
    else:
        found = _SOME_ROLLS.all(conn, card_id=card_id, also=list(rolls))
    made = [mishap(*row) for row in _MISHAPS.all(conn, card_id=card_id)]
    return read_card(kept, found, made, lambda roll_id: _fetch(conn, roll_id))


def _fetch(conn: Connection, roll_id: str) -> Roll:
    kept = _ROLL.scalar(conn, roll=roll_id)
    if kept is None:
        raise KeyError(roll_id)
    return read_roll(kept)


def project(
    conn: Connection,
    new: Mapping[str, Sequence[CardFact]],
    around: Around,
    *,
    stepping: bool = True,
) -> None:
    """Bring the rows up to date after facts were added to the journal, by card id.

    stepping: whether the kept states may be stepped from, which they may not if the world around
    them changed with the same facts.
    """
    mirrors = _MIRRORS.all(conn)
    hanging = {mirror.card for mirror in mirrors}
    anew: list[str] = []
    for card_id, facts in new.items():
        steps = stepping and card_id not in hanging
        if not (steps and _step(conn, card_id, facts, around.context)):
            anew.append(card_id)
    refold(conn, anew, around, {card_id: new[card_id] for card_id in anew})
    note_use(conn, new)
    _follow_mirrors(conn, new, around, [one for one in mirrors if one.card not in new])


def _step(conn: Connection, card_id: str, facts: Sequence[CardFact], context: Context) -> bool:
    """Step from the kept state, if that is right; False if the card must be folded."""
    if len(facts) > STEPS_AT_MOST:
        return False
    whole = any(isinstance(fact, Settled | CopyLost) for fact in facts)
    named = [fact.roll_id for fact in facts if isinstance(fact, CopyFact) and fact.roll_id]
    state = read_state(conn, card_id, rolls=named, whole=whole)
    ordered = in_order(facts)
    if (
        state is None
        or not can_step(state, ordered[0])
        or any(fact.event == "voided" for fact in ordered)
    ):
        return False
    if any(isinstance(fact, Loaded) and fact.loaded_as == "mirror" for fact in facts):
        return False
    before = dict(state.mishaps)
    others = {*state.held, *state.settled_losses}
    for fact in ordered:
        apply(state, fact, context)
    _write_step(conn, state, before, others ^ {*state.held, *state.settled_losses}, context)
    return True


def _write_step(
    conn: Connection,
    state: CardState,
    before: Mapping[MishapKey, Mishap],
    moved: set[str],
    context: Context,
) -> None:
    """Write what a step changed. moved: rolls that came, went, or whose loss was settled."""
    changed = sorted(state.changed() | moved)
    if changed:
        rolls = [state.rolls[i] for i in changed]
        _NO_COPIES.run(conn, rolls=changed)
        _NO_ROLLS.run(conn, rolls=changed)
        put_many(conn, t.Roll, [roll_row(state, roll, context) for roll in rolls])
        put_many(conn, t.Copy, [r for roll in rolls for r in copy_rows(roll, context, END)])
    gone = [key for key in before if key not in state.mishaps]
    new = [key for key, made in state.mishaps.items() if before.get(key) != made]
    if gone or new:
        conn.execute(
            delete(t.Mishap).where(
                t.Mishap.card == state.card_id,
                or_(*(_same_mishap(key) for key in [*gone, *new])),
            )
        )
        put_many(conn, t.Mishap, [mishap_row(state, key) for key in new])
    _WRITE_CARD.run(conn, card_id=state.card_id, **card_row(state, context))


def _same_mishap(key: MishapKey) -> ColumnElement[bool]:
    return and_(
        t.Mishap.fact == key.fact,
        t.Mishap.kind == key.kind,
        t.Mishap.roll == (key.roll or ""),
        t.Mishap.drive == (key.drive or ""),
    )


def refold(
    conn: Connection,
    cards: Sequence[str],
    around: Around,
    at_hand: Mapping[str, Sequence[CardFact]] | None = None,
) -> list[CardState]:
    """Fold cards anew from the journal, and write all their rows.

    at_hand: facts that were added just now, so that only those logged before them are read.
    """
    if not cards:
        return []
    new = at_hand or {}
    begin = min((fact.logged_at for facts in new.values() for fact in facts), default=None)
    read = facts_of(conn, cards, before=begin)
    by_card = {card_id: [*read.get(card_id, ()), *new.get(card_id, ())] for card_id in cards}
    keep = _held_labels(conn, by_card)
    states = {
        card_id: fold(_card_facts(by_card[card_id]), around.context, card_id=card_id, keep=keep)
        for card_id in cards
    }
    context = context_for(conn, states, by_card, around)
    if context is not around.context:
        for card_id, state in states.items():
            if mirrors_of(state):
                facts = _card_facts(by_card[card_id])
                states[card_id] = fold(facts, context, card_id=card_id, keep=keep)
    write_states(conn, list(states.values()), context)
    return list(states.values())


def _held_labels(conn: Connection, by_card: Mapping[str, Sequence[Fact]]) -> set[str]:
    """New labels that cannot be taken back, where one of these cards has such a void."""
    for facts in by_card.values():
        events = {fact.event for fact in facts}
        if {"relabelled", "voided"} <= events:
            return in_use_again(f for _, f in facts_with(conn, "registered", "relabelled"))
    return set()


def context_for(
    conn: Connection,
    states: Mapping[str, CardState],
    by_card: Mapping[str, Sequence[Fact]],
    around: Around,
) -> Context:
    """The context for some cards, with what their mirrors must know of their main rolls."""
    if not any(mirrors_of(state) for state in states.values()):
        return around.context
    return _context_with_mains(conn, states, by_card, around)


def _card_facts(facts: Sequence[Fact]) -> list[CardFact]:
    return [fact for fact in facts if isinstance(fact, CardFact)]


def _context_with_mains(
    conn: Connection,
    states: Mapping[str, CardState],
    by_card: Mapping[str, Sequence[Fact]],
    around: Around,
) -> Context:
    """Look for the main rolls of mirrors on every card that has, or had, a roll of their names."""
    names = {roll.name for state in states.values() for roll in mirrors_of(state)}
    asked = select(t.Roll.card).where(
        t.Roll.loaded_as.in_(("main", "continues")),
        or_(*(_answers_to(name) for name in names)),
    )
    others = sorted(set(conn.scalars(asked)) - set(states))
    more = facts_of(conn, others)
    facts = {i: _card_facts(f) for i, f in {**by_card, **more}.items()}
    cards = dict(states)
    for card_id in others:
        cards[card_id] = fold(facts[card_id], around.context, card_id=card_id)
    mains, main_rolls = main_cover(cards, facts, around.context, around.changes)
    return with_mains(around, mains, main_rolls)


def _answers_to(name: str) -> ColumnElement[bool]:
    escaped = name.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    return t.Roll.names.like(f"%\n{escaped}\n%", escape="\\")


def write_states(conn: Connection, states: Sequence[CardState], context: Context) -> None:
    """All rows of some cards, in place of those that are there."""
    ids = [state.card_id for state in states]
    forget(conn, ids)
    there: set[str] = set()
    for start in range(0, len(ids), 500):
        asked = select(t.Card.id).where(t.Card.id.in_(ids[start : start + 500]))
        there.update(conn.scalars(asked))
    rows = [(state.card_id in there, card_row(state, context)) for state in states]
    put_many(conn, t.Card, [row for known, row in rows if not known])
    for known, row in rows:
        if known:
            _WRITE_CARD.run(conn, card_id=row["id"], **row)
    rolls = [(state, roll) for state in states for roll in state.rolls.values()]
    put_many(conn, t.Roll, [roll_row(state, roll, context) for state, roll in rolls])
    put_many(conn, t.Copy, [row for _, roll in rolls for row in copy_rows(roll, context, END)])
    made = [mishap_row(state, key) for state in states for key in state.mishaps]
    put_many(conn, t.Mishap, made)


def note_use(conn: Connection, new: Mapping[str, Sequence[CardFact]]) -> None:
    """Which cards have had to do with which drives: those a change of a drive may concern."""
    pairs = {
        (label, card_id)
        for card_id, facts in new.items()
        for fact in facts
        if isinstance(fact, CopyFact)
        for label in (fact.drive, getattr(fact, "made_from", None))
        if label is not None
    }
    for drive in {drive for drive, _ in pairs}:
        there = {row.card for row in _USERS.all(conn, drive=drive)}
        rows = [
            {"drive": drive, "card": card}
            for label, card in sorted(pairs)
            if label == drive and card not in there
        ]
        put_many(conn, t.Use, rows)


def _follow_mirrors(
    conn: Connection,
    new: Mapping[str, Sequence[CardFact]],
    around: Around,
    mirrors: Sequence[Any],
) -> None:
    """Fold the cards whose mirrors may hang on what has just changed, or hung on what went."""
    if not mirrors:
        return
    names = or_(*(_answers_to(name) for name in {mirror.name for mirror in mirrors}))
    touched = select(func.count()).select_from(t.Roll).where(names, t.Roll.card.in_(list(new)))
    if any(mirror.main in new for mirror in mirrors) or conn.scalar(touched):
        refold(conn, sorted({mirror.card for mirror in mirrors}), around)


def follow_world(
    conn: Connection,
    around: Around,
    facts: Sequence[Fact],
    earliest: Moment,
    done: Iterable[str] = (),
) -> None:
    """Bring the rows up to date after drives, rules or proofs changed.

    earliest: the moment of the earliest change. Cards that were folded past it are folded anew
    as far as the change may concern them; the rest are judged by the other face of coverage.
    done: cards that were folded already with the world as it is now.
    """
    drives = {getattr(fact, "drive", None) for fact in facts}
    late = select(t.Card.id).where(t.Card.last > moment_text(earliest))
    if None not in drives:
        late = late.where(t.Card.id.in_(_users(drives)))
    refold(conn, sorted(set(conn.scalars(late)) - set(done)), around)
    _keep_ranks(conn, around)
    changed = refresh(conn, around.context.rules)
    concerned = select(t.Card.id)
    if None not in drives:
        concerned = concerned.where(
            or_(t.Card.id.in_(_users(drives)), t.Card.id.in_(sorted(changed)))
        )
    mirrors = set(conn.scalars(select(t.Roll.card).where(t.Roll.loaded_as == "mirror")))
    refold(conn, sorted(mirrors), around)
    for card_id in sorted(set(conn.scalars(concerned)) - mirrors):
        state = read_state(conn, card_id)
        if state is not None:
            _WRITE_CARD.run(conn, card_id=card_id, **card_row(state, around.context))


def _users(drives: Iterable[str | None]) -> Select[Any]:
    return select(t.Use.card).where(t.Use.drive.in_([d for d in drives if d is not None]))


def _keep_ranks(conn: Connection, around: Around) -> None:
    """Copies that waited for a proof which is kept by now are believed at another level."""
    asked = select(t.Copy.roll, t.Copy.awaits).where(t.Copy.awaits.is_not(None))
    kept = around.context.proofs or {}
    rolls = {
        roll
        for roll, awaits in conn.execute(asked)
        if any(proof in kept for proof in (awaits or "").split("\n"))
    }
    for roll_id in sorted(rolls):
        roll = read_roll(conn.scalar(select(t.Roll.state).where(t.Roll.id == roll_id)) or b"")
        conn.execute(delete(t.Copy).where(t.Copy.roll == roll_id))
        conn.execute(insert(table(t.Copy)), copy_rows(roll, around.context, END))
