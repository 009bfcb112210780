"""The names of rolls as a camera counts them on: the one given last, and the next one guessed."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, and_, delete, func, insert, select, update

from tracker.domain.facts import Fact, Loaded, RollRenamed
from tracker.store import tables as t

MAIN = ("main", "continues")
"""What is loaded to be the camera's own footage, and not the same or less of it again."""
FEW = 20
"""With more loads and new names than this at once, all rolls are looked at instead."""


def guess(conn: Connection, fact: Loaded) -> str:
    """The name after the one given last in a camera; its letters and 001 to begin with.

    A mirror or a proxy is called as what that camera is shooting, and a load that is said twice
    as what was opened by the first.
    """
    camera = fact.camera
    inside = select(t.Roll.name).where(t.Roll.camera == camera, ~t.Roll.closed)
    if fact.loaded_as in MAIN:
        of_card = inside.join(t.Card, t.Card.id == t.Roll.card)
        inside = of_card.where(t.Card.label == fact.card, t.Card.camera == camera)
    else:
        inside = inside.where(t.Roll.loaded_as.in_(MAIN)).order_by(t.Roll.opened_at.desc())
    name = conn.scalar(inside.limit(1))
    if name is not None:
        return name
    last = conn.scalar(select(t.Reel.last).where(t.Reel.camera == camera).with_for_update())
    return after(camera, last)


def expected(conn: Connection, camera: str) -> str:
    """The name that the next roll of a camera will most likely have; nothing is locked for it."""
    return after(camera, conn.scalar(select(t.Reel.last).where(t.Reel.camera == camera)))


def after(camera: str | None, last: str | None) -> str:
    """The name after one; a camera's letters and 001 to begin with."""
    if last is None:
        return f"{camera}001"
    head = last.rstrip("0123456789")
    digits = last[len(head) :]
    if not digits:
        return f"{last}002"
    return f"{head}{int(digits) + 1:0{len(digits)}d}"


def keep_reels(conn: Connection, facts: Sequence[Fact]) -> None:
    """The roll name given last in each camera, after facts whose rows are written."""
    moving = [f for f in facts if isinstance(f, RollRenamed) or _opens(f)]
    if len(moving) > FEW:
        reels_anew(conn)
        return
    for fact in moving:
        if isinstance(fact, RollRenamed):
            called = t.Reel.last == fact.roll
            conn.execute(update(t.Reel).where(called).values(last=fact.new_name))
        elif isinstance(fact, Loaded):
            # Said twice, or gone on with: then no roll was opened by it.
            name = conn.scalar(select(t.Roll.name).where(t.Roll.id == fact.id))
            if name is not None:
                _keep(conn, fact.camera, name)


def _opens(fact: Fact) -> bool:
    return isinstance(fact, Loaded) and fact.loaded_as in MAIN


def _keep(conn: Connection, camera: str, name: str) -> None:
    done = conn.execute(update(t.Reel).where(t.Reel.camera == camera).values(last=name))
    if not done.rowcount:
        conn.execute(insert(t.Reel).values(camera=camera, last=name))


def reels_anew(conn: Connection) -> None:
    """From the roll that was opened last in each camera."""
    shot = and_(t.Roll.camera.is_not(None), t.Roll.loaded_as.in_(MAIN))
    newest = (
        select(t.Roll.camera, func.max(t.Roll.opened_at).label("at"))
        .where(shot)
        .group_by(t.Roll.camera)
        .subquery()
    )
    same = and_(newest.c.camera == t.Roll.camera, newest.c.at == t.Roll.opened_at)
    asked = select(t.Roll.camera, t.Roll.name).join(newest, same).where(shot)
    rows = conn.execute(asked.order_by(t.Roll.name)).all()
    conn.execute(delete(t.Reel))
    for camera, name in {row.camera: row.name for row in rows}.items():
        conn.execute(insert(t.Reel).values(camera=camera, last=name))
