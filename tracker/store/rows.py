"""The rows of a card, from what is true of it: card, rolls, copies, mishaps.

Rows are made by one function each from the state and the context, so that it does not matter
whether the state was stepped to, folded anew, or rebuilt.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Table, delete

from tracker.domain.card import CardState
from tracker.domain.facts import CameraSet, Moment
from tracker.domain.fold import FOLD_VERSION
from tracker.domain.mishaps import MishapKey
from tracker.domain.needs import need
from tracker.domain.rolls import Finish, Roll, is_empty, owes
from tracker.domain.rule import RANK, Context, awaited_proofs, covered, rank, sound
from tracker.domain.status import view
from tracker.store import tables as t
from tracker.store.bulk import put
from tracker.store.states import write_card, write_roll
from tracker.store.types import moment_text

Row = dict[str, Any]


def table(of: type[t.Base]) -> Table:
    """The table of a class, for statements on many rows."""
    made = of.__table__
    assert isinstance(made, Table)
    return made


def card_row(state: CardState, context: Context) -> Row:
    """A card's own row. Of its rolls it needs only those on the card."""
    shown = view(state, context, held_only=True)
    told = need(shown, context)
    registered = state.registered
    return {
        "id": state.card_id,
        "label": state.label,
        "status": shown.status,
        "camera": shown.camera,
        "holds": "\n".join(roll.name for roll in shown.holds),
        "uncovered": "\n".join(roll.name for roll in shown.uncovered),
        "next": told.what,
        "who": told.who,
        "rank": told.rank,
        "may_format": told.may_format,
        "since": None if told.since is None or told.since[0].year > 9000 else told.since[0],
        "media": registered.media if registered else None,
        "capacity_bytes": registered.capacity_bytes if registered else None,
        "serial": registered.serial if registered else None,
        "case": registered.case if registered else None,
        "owner": registered.owner if registered else None,
        "visiting": state.visiting,
        "place": state.holder.place if state.holder else None,
        "last": moment_text(state.last) if state.last else "",
        "facts": state.folded,
        "state": write_card(state),
        "fold_version": FOLD_VERSION,
    }


def roll_row(state: CardState, roll: Roll, context: Context) -> Row:
    """A roll's row."""
    wiped = None if roll.wiped is None else moment_text(roll.wiped)
    rule = None if roll.wiped is None else context.rules.at(roll, roll.wiped)
    size, clips = roll.figures.bytes, roll.figures.clips
    return {
        "id": roll.id,
        "card": state.card_id,
        "position": roll.position,
        "name": roll.name,
        "names": "\n".join(("", *roll.names, "")),
        "guessed": roll.guessed,
        "camera": roll.camera,
        "loaded_as": roll.loaded_as,
        "opened_at": roll.opened[0],
        "closed_at": None if roll.closed is None else roll.closed[0],
        "held": roll.id in state.held,
        "closed": roll.closed is not None,
        "wiped": wiped,
        "wiped_by": roll.wiped_by,
        "covered_when_wiped": roll.covered_when_wiped,
        "loss_settled": roll.id in state.settled_losses,
        "parted": roll.parted_from is not None,
        "mirror_wiped_early": roll.main_covered_when_wiped is False,
        "owes": owes(roll),
        "empty": is_empty(roll),
        "verdict": roll.verdict,
        "bytes": None if size is None else int(size.value),
        "clips": None if clips is None else int(clips.value),
        "main": (context.main_rolls or {}).get(roll.id),
        "needs_copies": rule.copies if rule else None,
        "needs_rank": RANK[rule.level] if rule else None,
        "needs_kinds": rule.kinds if rule else None,
        "needs_off_site": rule.off_site if rule else None,
        "needs_receipt": rule.receipt if rule else None,
        "covered": covered(roll, context),
        "state": write_roll(roll),
    }


def copy_rows(roll: Roll, context: Context, at: Moment) -> list[Row]:
    """The finished copies of what a roll holds now, each on its drive."""
    return [copy_row(finish, roll, context, at) for finish in roll.standing()]


def copy_row(finish: Finish, roll: Roll, context: Context, at: Moment) -> Row:
    """One copy's row."""
    size, clips = finish.figures.bytes, finish.figures.clips
    return {
        "roll": roll.id,
        "drive": finish.drive,
        "finished": moment_text(finish.at),
        "finished_at": finish.at[0],
        "rank": rank(finish, roll, context, at),
        "sound": sound(finish, roll),
        "bytes": None if size is None else int(size.value),
        "clips": None if clips is None else int(clips.value),
        "made_from": finish.made_from,
        "awaits": "\n".join(awaited_proofs(finish, roll, context)) or None,
    }


def mishap_row(state: CardState, key: MishapKey) -> Row:
    """A mishap's row: what it is not about is an empty string there."""
    mishap = state.mishaps[key]
    return {
        "fact": key.fact,
        "kind": key.kind,
        "roll": key.roll or "",
        "drive": key.drive or "",
        "card": state.card_id,
        "severity": mishap.severity,
        "settled_by": mishap.settled_by,
    }


def camera_row(fact: CameraSet) -> Row:
    """A camera's row."""
    return {
        "letters": fact.letters,
        "unit": fact.unit,
        "slots": fact.slots,
        "takes": fact.takes,
        "needs_write_bytes_per_s": fact.needs_write_bytes_per_s,
        "formats_to": fact.formats_to,
        "recording": fact.recording,
        "kind": fact.kind,
    }


def forget(conn: Connection, cards: Iterable[str]) -> None:
    """Take away all rows of some cards, but for the card's own."""
    ids = list(cards)
    for start in range(0, len(ids), 500):
        some = ids[start : start + 500]
        rolls = table(t.Roll)
        of_cards = rolls.select().with_only_columns(rolls.c.id).where(rolls.c.card.in_(some))
        conn.execute(delete(t.Copy).where(t.Copy.roll.in_(of_cards)))
        conn.execute(delete(t.Mishap).where(t.Mishap.card.in_(some)))
        conn.execute(delete(t.Roll).where(t.Roll.card.in_(some)))


def put_many(conn: Connection, of: type[t.Base], rows: list[Row]) -> None:
    """Insert rows that are not there."""
    put(conn, table(of), rows)
