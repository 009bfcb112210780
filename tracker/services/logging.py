"""Logging facts: from what was said to the journal and the rows, in one transaction.

Everything is taken or nothing. The same fact said twice is taken once; an id said with another
body is an error. A label that nobody knows is answered with the nearest. What a file or a list
says wrong is named line by line, all of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, bindparam

from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import Fact, Source
from tracker.domain.late import corrected
from tracker.services.errors import Conflict, Refused
from tracker.services.permitting import permit
from tracker.services.said import AtFault, Logged, Said, said_in
from tracker.services.service import Service, Who, production_row
from tracker.services.taking import changes_world, check, take
from tracker.services.waiting import collector_waits
from tracker.store import journal
from tracker.store import tables as t
from tracker.store.bodies import Ready, digest_said, ready
from tracker.store.quick import Quick
from tracker.store.rows import table
from tracker.wire.codec import decode
from tracker.wire.faults import BadInput
from tracker.wire.values import read_time

__all__ = ["Logged", "Said", "log_history", "log_live", "log_within", "said_in"]

NOBODY = Who()
MICROSECOND = timedelta(microseconds=1)
_LAST_LOGGED = Quick(table(t.Production).update().values(last_logged=bindparam("at")))

Made = list[tuple[Said, Ready]]


class _DryRun(Exception):
    """Undoes what was tried."""


def log_history(
    service: Service, said: Sequence[Said], *, who: Who = NOBODY, dry_run: bool = False
) -> Logged:
    """Take a history as it stands: its clearings were given, its proofs are believed.

    Nobody else can write while it is taken, about half a second for 10,000 facts; what can be
    done before is done before. Errors: BadInput with every line at fault; nothing is taken then.
    """
    with collector_waits():
        try:
            return _log_history(service, said, who, dry_run)
        finally:
            service.memory.forget()


def _log_history(service: Service, said: Sequence[Said], who: Who, dry_run: bool) -> Logged:
    with service.store.reading() as conn:
        production = production_row(conn)
    base = max(service.clock(), production.last_logged + MICROSECOND)
    faults = AtFault(said, one_by_one=False)
    made = _made(said, base, who, production.origin, faults)
    logged = Logged()
    try:
        with service.store.writing() as conn:
            production = production_row(conn, locked=True)
            if production.last_logged >= base:
                base = production.last_logged + MICROSECOND
                again = AtFault(said, one_by_one=False)
                made = _made(said, base, who, production.origin, again)
            fresh = _not_said(conn, made, {}, logged, faults)
            around = service.memory.look(conn, production)
            checked = check(conn, fresh, around, logged, faults)
            faults.refuse()
            take(conn, production, checked, around, logged)
            _LAST_LOGGED.run(conn, at=base + len(said) * MICROSECOND)
            if dry_run:
                raise _DryRun
    except _DryRun:
        pass
    return logged


def _made(said: Sequence[Said], base: datetime, who: Who, origin: str, faults: AtFault) -> Made:
    """What is well formed of a history, ready to be added."""
    heard = _decode(said, base, "history", who, origin, faults)
    return [(one, ready(fact, digest_said(one.obj))) for one, fact in heard]


def log_live(
    service: Service,
    said: Sequence[Said | dict[str, Any]],
    *,
    who: Who = NOBODY,
    dry_run: bool = False,
) -> Logged:
    """Take what people tapped, one fact after the other, all or nothing.

    Errors: BadInput, UnknownLabel, LabelInUse, Refused (for `cleared`), Conflict; where lines are
    given and more than a permission is missing, BadInput with every line at fault.
    """
    placed = [one if isinstance(one, Said) else Said(one) for one in said]
    logged = Logged()
    try:
        with service.store.writing() as conn:
            logged = log_within(service, conn, placed, who=who)
            if dry_run:
                raise _DryRun
    except _DryRun:
        pass
    return logged


def log_within(
    service: Service, conn: Connection, said: Sequence[Said], *, who: Who = NOBODY
) -> Logged:
    """What `log_live` does, in a transaction that is open already: for whoever looks first."""
    production = production_row(conn, locked=True)
    now = service.clock()
    at = max(now, production.last_logged + MICROSECOND)
    faults = AtFault(said, one_by_one=True)
    heard = list(_decode(said, at, "live", who, production.origin, faults))
    if all(one.line is None for one in said):
        faults.refuse()
    batch = _Batch(service, conn, who, now, production, faults)
    try:
        for one, sent in heard:
            batch.log(one, sent)
    finally:
        # Before the lock is given back: if this is undone, the next one gives its world the
        # same count, and what is remembered here would be taken for it.
        if any(changes_world(fact) for _, fact in heard):
            service.memory.forget()
    faults.refuse()
    _LAST_LOGGED.run(conn, at=at + len(said) * MICROSECOND)
    return batch.logged


@dataclass(slots=True)
class _Batch:
    """Facts that are taken one after the other. before: digests of what was said in it so far."""

    service: Service
    conn: Connection
    who: Who
    now: datetime
    production: Any
    faults: AtFault
    logged: Logged = field(default_factory=Logged)
    before: dict[str, str] = field(default_factory=dict)

    def log(self, one: Said, sent: Fact) -> None:
        """Take a fact, or note what is wrong with it."""
        fact = _by_our_clock(sent, one, self.who, self.now)
        made = ready(fact, digest_said(one.obj))
        if not _not_said(self.conn, [(one, made)], self.before, self.logged, self.faults):
            return
        try:
            named = permit(self.service, self.conn, fact, self.who, self.production)
        except Refused as error:
            # With a line at fault about this card, nobody knows what may be done with it.
            if not self.faults.names(one.obj["card"]):
                self.faults.add(one, "event", error)
            return
        except (BadInput, UnknownLabel) as error:
            self.faults.add(one, "camera", error)
            return
        made = made if named is fact else ready(named, made.digest)
        around = self.service.memory.look(self.conn, self.production)
        new = check(self.conn, [(one, made)], around, self.logged, self.faults)
        take(self.conn, self.production, new, around, self.logged)
        if changes_world(fact):
            self.production = production_row(self.conn)


def _by_our_clock(fact: Fact, one: Said, who: Who, now: datetime) -> Fact:
    """The fact with its time as it is believed, and the device that sent it."""
    told = one.obj.get("sent_at")
    sent_at = None if told is None else read_time(told)
    time = corrected(fact.occurred_at, sent_at, now, who.last_exchange)
    return replace(
        fact,
        occurred_at=time.occurred_at,
        raw_occurred_at=time.raw,
        clamped=time.clamped,
        device=who.device,
    )


def _decode(
    said: Sequence[Said], base: datetime, source: Source, who: Who, origin: str, faults: AtFault
) -> Iterator[tuple[Said, Fact]]:
    """What is well formed, one by one; the rest is noted."""
    at = base - MICROSECOND
    for one in said:
        at += MICROSECOND
        try:
            if one.faults:
                raise BadInput(one.faults)
            fact = decode(one.obj, logged_at=at, origin=origin, source=source, by=who.by)
        except BadInput as error:
            faults.add(one, "", error)
        else:
            yield one, fact


def _not_said(
    conn: Connection, made: Made, within: dict[str, str], logged: Logged, faults: AtFault
) -> Made:
    """Those not said before; an id with another body is noted. within: said just now, by id."""
    before = journal.said_before(conn, [one.fact.id for _, one in made])
    fresh: Made = []
    for one, fact in made:
        fact_id, digest = fact.fact.id, fact.digest
        kept = before.get(fact_id)
        if kept is None and fact_id not in within:
            within[fact_id] = digest
            fresh.append((one, fact))
        elif within[fact_id] == digest if kept is None else kept.says(digest):
            logged.again.append(fact_id)
        else:
            faults.add(one, "id", Conflict(fact_id))
    return fresh
