"""What the cart does: copies, and whether they are good."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection, select

from tracker.domain.card import CardState
from tracker.domain.errors import CardwrightError
from tracker.domain.facts import FailReason, Level
from tracker.domain.rolls import owes
from tracker.domain.rule import Context, covered
from tracker.services.acts import Obj, act, kept_fact, looking_first, obj, say
from tracker.services.acts_drive import drives_of_today, gone_of_today
from tracker.services.as_drawn import AskAgain, Check
from tracker.services.errors import Conflict
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import tables as t
from tracker.store.projection import read_state


class NoDrivesToday(CardwrightError):
    """Nobody has said to which drives today's copies go."""


def offloaded(
    service: Service,
    who: Who,
    cards: Sequence[str],
    *,
    at: datetime | None = None,
    tap: str | None = None,
    check: Check | None = None,
    to_said: Sequence[str] | None = None,
) -> Logged:
    """Cards are said to be copied to each of today's drives: claimed, not checked.

    A roll that has a copy on a drive is left as it is there: saying it again would only take its
    check away. to_said: the drives that a page named; if they are others by now, nothing is
    logged. Errors: NoDrivesToday, AskAgain.
    """
    with looking_first(service) as conn:
        if tap is not None and (kept := kept_fact(conn, tap)) is not None:
            if kept.event != "copy_finished":
                raise Conflict(tap)
            return Logged(again=[tap])
        if check is not None:
            check(conn)
        drives = drives_of_today(conn)
        if not drives:
            raise NoDrivesToday(_none_today(gone_of_today(conn)))
        if to_said is not None and sorted(to_said) != sorted(drives):
            raise AskAgain(f"Today's copies go to {' and '.join(drives)} now.")
        context = service.around(conn).context
        once = list(dict.fromkeys(cards))
        states = {card: _state(conn, card) for card in once}
        objs = [
            said
            for card, state in states.items()
            for drive in drives
            for said in _finished(card, state, drive, context)
        ]
        logged = say(service, conn, who, objs, at, tap)
        logged.notices += [_honest(conn, card, drives) for card in once]
        return logged


def _none_today(gone: Sequence[str]) -> str:
    if not gone:
        return "No drives are set for today's copies: set them first."
    return f"{' and '.join(gone)}: a data manager sets today's drives anew first."


def _state(conn: Connection, card: str) -> CardState | None:
    card_id = conn.scalar(select(t.Card.id).where(t.Card.label == card))
    return None if card_id is None else read_state(conn, card_id)


def _finished(card: str, state: CardState | None, drive: str, context: Context) -> list[Obj]:
    """What is to be said of one drive: of what the rules say, or of the rolls not there yet."""
    whole = [obj("copy_finished", card=card, drive=drive)]
    if state is None or state.opened is not None or state.under_way.get(drive):
        return whole
    owing = [roll for roll in state.closed_rolls() if owes(roll)]
    bare = [roll for roll in owing if not covered(roll, context)] or owing
    missing = [roll for roll in bare if roll.finish_on(drive) is None]
    if len(missing) == len(bare):
        return whole
    return [
        obj("copy_finished", card=card, drive=drive, roll=roll.name, roll_id=roll.id)
        for roll in missing
    ]


def _honest(conn: Connection, card: str, drives: Sequence[str]) -> str:
    asked = select(t.Card.status, t.Card.may_format).where(t.Card.label == card)
    row = conn.execute(asked).one()
    if row.status in ("backed up", "cleared"):
        return f"{card} is {row.status}."
    return f"{card} is said to be copied to {', '.join(drives)}, not checked: leave the tape on."


def copy_started(
    service: Service,
    who: Who,
    card: str,
    drive: str,
    *,
    roll: str | None = None,
    roll_id: str | None = None,
    made_from: str | None = None,
    cart: str | None = None,
    reader: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A copy began. made_from: the label of a drive; None is the card itself."""
    return act(
        service, who, "copy_started", at, tap, card=card, drive=drive, roll=roll,
        roll_id=roll_id, made_from=made_from, cart=cart, reader=reader,
    )  # fmt: skip


def copy_finished(
    service: Service,
    who: Who,
    card: str,
    drive: str,
    *,
    roll: str | None = None,
    roll_id: str | None = None,
    made_from: str | None = None,
    bytes_: int | None = None,
    files: int | None = None,
    clips: int | None = None,
    seconds: float | None = None,
    measured: bool = False,
    cart: str | None = None,
    reader: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A copy is on the drive, and a person says that it is good.

    measured: counted by a reader, which only a cart computer may say.
    """
    return act(
        service, who, "copy_finished", at, tap, card=card, drive=drive, roll=roll,
        roll_id=roll_id, made_from=made_from, bytes=bytes_, files=files, clips=clips,
        seconds=seconds, measured=measured, cart=cart, reader=reader,
    )  # fmt: skip


def copy_checked(
    service: Service,
    who: Who,
    card: str,
    drive: str,
    level: Level,
    *,
    proof: str | None = None,
    roll: str | None = None,
    roll_id: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A copy was checked. proof: the SHA-256 of what shows it, kept here; without, `claimed`."""
    return act(
        service, who, "copy_checked", at, tap, card=card, drive=drive, level=level, proof=proof,
        roll=roll, roll_id=roll_id,
    )  # fmt: skip


def copy_failed(
    service: Service,
    who: Who,
    card: str,
    drive: str,
    reason: FailReason,
    *,
    text: str | None = None,
    roll: str | None = None,
    roll_id: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A copy went wrong. unreadable: the card could not be read, and is set aside."""
    return act(
        service, who, "copy_failed", at, tap, card=card, drive=drive, reason=reason, text=text,
        roll=roll, roll_id=roll_id,
    )  # fmt: skip


def copy_lost(
    service: Service,
    who: Who,
    card: str,
    drive: str,
    reason: str,
    *,
    roll: str | None = None,
    roll_id: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A copy is gone while its drive is not."""
    return act(
        service, who, "copy_lost", at, tap, card=card, drive=drive, reason=reason, roll=roll,
        roll_id=roll_id,
    )  # fmt: skip
