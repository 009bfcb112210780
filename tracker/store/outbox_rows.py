"""What the outbox reads and writes: messages on their way, and what is in each."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, and_, bindparam, func, null, or_, select
from sqlalchemy.orm import aliased

from tracker.store import people_tables as p
from tracker.store import reminder_tables as r
from tracker.store.bulk import put
from tracker.store.quick import Among, Quick
from tracker.store.reminder_rows import unsettled
from tracker.store.rows import table

_M, _T = table(r.NoticeMessage), table(r.NoticeTurn)
_NEWER, _EARLIER, _AGAIN = aliased(r.NoticeTurn), aliased(r.NoticeTurn), aliased(r.NoticeSpell)
_ID = bindparam("message", type_=_M.c.id.type)

_WAITING = Quick(
    select(_M.c.id, _M.c.channel, _M.c.state, _M.c.next_try, _M.c.lease_until)
    .where(unsettled(_M.c.state))
    .order_by(_M.c.danger.desc(), _M.c.attempts, _M.c.made_at, _M.c.id)
)
_MESSAGE = Quick(
    select(
        _M, p.Person.revoked_at, r.NoticeChannel.address, r.NoticeChannel.active
    )
    .join(p.Person, p.Person.id == _M.c.person)
    .outerjoin(
        r.NoticeChannel,
        and_(
            r.NoticeChannel.person == _M.c.person, r.NoticeChannel.channel == _M.c.channel
        ),
    )
    .where(_M.c.id == _ID)
)  # fmt: skip


def _same_way(other: Any) -> Any:
    return and_(
        other.spell == r.NoticeTurn.spell,
        other.person == r.NoticeTurn.person,
        other.channel == r.NoticeTurn.channel,
    )


_ITEMS = Quick(
    select(
        r.NoticeSpell.id, r.NoticeSpell.subject, r.NoticeSpell.rule, r.NoticeSpell.severity,
        r.NoticeSpell.opened, r.NoticeSpell.ended, r.NoticeTurn.turn, r.NoticeTurn.first,
        select(func.max(_NEWER.turn))
        .where(_same_way(_NEWER))
        .correlate(r.NoticeTurn)
        .scalar_subquery()
        .label("newest"),
        select(func.sum(_EARLIER.turn - _EARLIER.first + 1))
        .where(_same_way(_EARLIER), _EARLIER.turn < r.NoticeTurn.turn, ~_EARLIER.offered)
        .correlate(r.NoticeTurn)
        .scalar_subquery()
        .label("missed"),
    )
    .select_from(r.NoticeTurn)
    .join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeTurn.spell)
    .where(r.NoticeTurn.message == _ID)
    .order_by(r.NoticeTurn.at, r.NoticeSpell.id)
)  # fmt: skip
_CLEARS = Quick(
    select(
        r.NoticeSpell.about, r.NoticeSpell.rule, r.NoticeSpell.severity,
        select(func.count())
        .select_from(_AGAIN)
        .where(
            _AGAIN.gone.is_(None),
            or_(
                and_(
                    _AGAIN.subject == r.NoticeSpell.subject,
                    _AGAIN.rule == r.NoticeSpell.rule,
                    _AGAIN.number > r.NoticeSpell.number,
                ),
                # A card that is missing now is not settled because it is exposed no longer.
                and_(_AGAIN.about == r.NoticeSpell.about, _AGAIN.severity == "danger"),
            ),
        )
        .correlate(r.NoticeSpell)
        .scalar_subquery()
        .label("again"),
    )
    .select_from(r.NoticeAllClear)
    .join(r.NoticeSpell, r.NoticeSpell.id == r.NoticeAllClear.spell)
    .where(r.NoticeAllClear.message == _ID)
    .order_by(r.NoticeSpell.about, r.NoticeSpell.rule)
)  # fmt: skip
_DIGEST = Quick(
    select(r.NoticeDigest.day, r.NoticeDigest.missed).where(r.NoticeDigest.message == _ID)
)
_LEASE = Quick(
    _M.update()
    .where(_M.c.id == _ID, _M.c.state == bindparam("was"), _M.c.attempts == bindparam("tries"))
    .values(
        state="leased",
        attempts=_M.c.attempts + 1,
        leased_by=bindparam("worker"),
        lease_until=bindparam("until"),
        unsure=bindparam("doubt"),
        title=bindparam("says"),
        body=bindparam("text"),
    )
)
_OFFERED = Quick(
    _T.update().where(_T.c.message == _ID, Among(_T.c.spell, "spells")).values(offered=True)
)
_NOT_OFFERED = Quick(_T.update().where(_T.c.message == _ID).values(offered=False))
_MOVED = Quick(
    _T.update()
    .where(_T.c.message == _ID, Among(_T.c.spell, "spells"))
    .values(message=bindparam("other"))
)
_SENT = Quick(
    _M.update()
    .where(_M.c.id == _ID)
    .values(
        state="sent", sent_at=bindparam("at"), error=null(), leased_by=null(), lease_until=null(),
        next_try=null(),
    )
)  # fmt: skip
_FAILED = Quick(
    _M.update()
    .where(_M.c.id == _ID, _M.c.state == "leased", _M.c.leased_by == bindparam("worker"))
    .values(
        state=bindparam("becomes"),
        next_try=bindparam("again"),
        error=bindparam("why"),
        unsure=bindparam("doubt"),
        leased_by=null(),
        lease_until=null(),
    )
)
_SUPERSEDED = Quick(
    _M.update()
    .where(_M.c.id == _ID, _M.c.state == bindparam("was"), _M.c.attempts == bindparam("tries"))
    .values(
        state="superseded", error=bindparam("why"), unsure=bindparam("doubt"), leased_by=null(),
        lease_until=null(), next_try=null(),
    )
)  # fmt: skip


def waiting(conn: Connection) -> list[Any]:
    """Messages that are not settled, danger first, then those tried least, then the oldest."""
    return _WAITING.all(conn)


def message(conn: Connection, message_id: str) -> Any:
    """A message, with its address and whether its person is still here."""
    return _MESSAGE.first(conn, message=message_id)


def items(conn: Connection, message_id: str) -> list[Any]:
    """The turns in a message, each with its spell.

    newest: the newest turn that goes the same way. missed: turns before it that did not go out.
    """
    return _ITEMS.all(conn, message=message_id)


def clears(conn: Connection, message_id: str) -> list[Any]:
    """The ends in a message. again: spells that go on now and make it none: of it, or danger."""
    return _CLEARS.all(conn, message=message_id)


def digest(conn: Connection, message_id: str) -> Any:
    """The list of the morning in a message; None if there is none."""
    return _DIGEST.first(conn, message=message_id)


def lease(
    conn: Connection, row: Any, worker: str, until: datetime, said: tuple[str, str],
    spells: Sequence[str],
) -> bool:  # fmt: skip
    """Take a message to hand it on; False if another took it since it was read.

    said: its title and text. spells: those that are told of in it.
    """
    doubt = bool(row.unsure) or row.state == "leased"
    took = _LEASE.run(
        conn, message=row.id, was=row.state, tries=row.attempts, worker=worker, until=until,
        doubt=doubt, says=said[0], text=said[1],
    )  # fmt: skip
    if took and spells:
        _OFFERED.run(conn, message=row.id, spells=list(spells))
    return bool(took)


def put_off(conn: Connection, row: Any, other: str, spells: Sequence[str]) -> None:
    """Let some of what a message tells of wait in another one. other: the id of that."""
    waits = {
        "id": other, "person": row.person, "channel": row.channel, "made_at": row.made_at,
        "state": "queued", "danger": row.danger, "attempts": 0, "next_try": None,
        "leased_by": None, "lease_until": None, "unsure": bool(row.unsure) or row.state == "leased",
        "sent_at": None, "error": None, "title": None, "body": None,
    }  # fmt: skip
    put(conn, _M, [waits])
    _MOVED.run(conn, message=row.id, spells=list(spells), other=other)


def sent(conn: Connection, message_id: str, at: datetime) -> None:
    """It was accepted: whatever else became of it meanwhile."""
    _SENT.run(conn, message=message_id, at=at)


def failed(
    conn: Connection, message_id: str, worker: str, why: str, again: datetime | None, *,
    unsure: bool,
) -> None:  # fmt: skip
    """It was not accepted. again: when it is tried again; None: never."""
    becomes = "dead" if again is None else "retried"
    mine = _FAILED.run(
        conn, message=message_id, worker=worker, becomes=becomes, again=again, why=why,
        doubt=unsure,
    )  # fmt: skip
    if mine and not unsure:
        _NOT_OFFERED.run(conn, message=message_id)


def superseded(conn: Connection, row: Any, why: str) -> None:
    """Nothing of it is to be said any more."""
    doubt = bool(row.unsure) or row.state == "leased"
    _SUPERSEDED.run(
        conn, message=row.id, was=row.state, tries=row.attempts, why=why, doubt=doubt
    )  # fmt: skip
