"""What every service function works with: the store, the clock, what is remembered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, select
from uuid_utils import uuid7

from tracker.services.errors import NotSetUp
from tracker.store import tables as t
from tracker.store.around import Around, Memory
from tracker.store.engine import Store
from tracker.store.quick import Quick
from tracker.store.rows import table


def utc_now() -> datetime:
    """The time of this machine, aware."""
    return datetime.now(UTC)


def new_id() -> str:
    """A new id that sorts by time (UUID version 7)."""
    return str(uuid7())


@dataclass(slots=True)
class Service:
    """The running service. clock: gives the aware time; tests give their own."""

    store: Store
    clock: Callable[[], datetime] = utc_now
    memory: Memory = field(default_factory=Memory)

    def around(self, conn: Connection) -> Around:
        """The world around the cards."""
        return self.memory.look(conn)


_READ = Quick(select(table(t.Production)))
_LOCKED = Quick(select(table(t.Production)).with_for_update())


def production_row(conn: Connection, *, locked: bool = False) -> Any:
    """The production's row. Errors: NotSetUp if there is none."""
    row = (_LOCKED if locked else _READ).first(conn)
    if row is None:
        raise NotSetUp("There is no production here yet: begin with `cardwright init`.")
    return row


@dataclass(frozen=True, slots=True)
class Who:
    """Who says something, on what. reader: counted by a reader, so that it may be measured.

    last_exchange: when the device was last heard of, aware; None if it never was.
    """

    by: str | None = None
    device: str | None = None
    reader: bool = False
    last_exchange: datetime | None = None
