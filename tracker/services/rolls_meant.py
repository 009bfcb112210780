"""What is said of rolls that a page has named: of those by their ids, and of no others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, select

from tracker.domain.card import CardState
from tracker.domain.errors import CardwrightError
from tracker.domain.rolls import Roll
from tracker.services.acts import act_on, kept_fact, looking_first, obj, say
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import naming
from tracker.store import tables as t
from tracker.store.projection import read_state

Named = tuple[str, str]
"""A roll: its name, and its id."""

JUST_BEFORE = timedelta(microseconds=1)


class NoNameOfItsOwn(CardwrightError):
    """A roll that cannot be renamed, since what is said of its name is said of another."""

    def __init__(self, name: str) -> None:
        super().__init__(
            f"Another roll of this card is called {name} too, and this one cannot be told from it."
        )


def of_each(
    service: Service,
    who: Who,
    event: str,
    card: str,
    rolls: Sequence[Named],
    *,
    at: datetime | None,
    tap: str,
    **fields: Any,
) -> Logged:
    """A fact about a copy of each of some rolls, all or nothing. fields: as of `act`."""
    objs = [obj(event, card=card, roll=name, roll_id=id_, **fields) for name, id_ in rolls]
    return act_on(service, who, objs, at, tap)


def rename(
    service: Service, who: Who, card: str, roll_id: str, new_name: str, *, tap: str
) -> Logged:
    """The camera's own reel name rules, for the roll of an id.

    A fact can only name it. Where another that was opened later answers to each of its names, it
    is said as of just before that one was opened: then this one is meant. Errors: NoNameOfItsOwn.
    """
    with looking_first(service) as conn:
        if kept_fact(conn, tap) is not None:
            return Logged(again=[tap])
        state = _state(conn, card, roll_id)
        roll = state.rolls[roll_id]
        name, at = state.name_of(roll_id), None
        if name is None:
            name = roll.names[0]
            at = _before_the_next(state, roll, name)
        said = obj("roll_renamed", card=card, roll=name, new_name=new_name)
        logged = say(service, conn, who, [said], at, tap)
        if _state(conn, card, roll_id).rolls[roll_id].name != new_name:
            # Nothing of it is kept.
            raise NoNameOfItsOwn(name)
        return logged


def _state(conn: Connection, card: str, roll_id: str) -> CardState:
    card_id = conn.scalar(select(t.Card.id).where(t.Card.label == card)) or ""
    state = read_state(conn, card_id, rolls=[roll_id])
    if state is None or state.named(None, roll_id) is None:
        raise NoNameOfItsOwn(roll_id)
    return state


def _before_the_next(state: CardState, roll: Roll, name: str) -> datetime:
    """A time at which a name still meant a roll that was opened before others of that name."""
    others = (state.rolls[id_] for id_ in state.by_name[name])
    later = [other.opened for other in others if other.opened > roll.opened]
    if not later:
        raise NoNameOfItsOwn(name)
    return min(later)[0] - JUST_BEFORE


# Names that were guessed, many at once


def guessed_names(service: Service) -> list[Any]:
    """The rolls on cards whose names nobody confirmed: as of `naming.guessed`."""
    with service.store.reading() as conn:
        return naming.guessed(conn)


def name_rolls(service: Service, who: Who, given: Mapping[str, str], *, tap: str) -> Logged:
    """The camera's own names of rolls, by their ids: one tap, all or nothing.

    A name that is given as it was guessed confirms it. What is not on the list of guessed names
    any more is left as it is: somebody else named it meanwhile. Errors: NoNameOfItsOwn.
    """
    with looking_first(service) as conn:
        if kept_fact(conn, tap) is not None:
            return Logged(again=[tap])
        objs = []
        for row in naming.guessed(conn):
            new = given.get(row.id, "").strip()
            if not new:
                continue
            name = _state(conn, row.card, row.id).name_of(row.id)
            if name is None:
                raise NoNameOfItsOwn(row.name)
            objs.append(obj("roll_renamed", card=row.card, roll=name, new_name=new))
        return say(service, conn, who, objs, None, tap)
