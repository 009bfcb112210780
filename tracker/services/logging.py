"""Logging facts: from what was said to the journal and the rows, in one transaction.

Everything is taken or nothing. The same fact said twice is taken once; an id said with another
body is an error. A label that nobody knows is answered with the nearest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, update

from tracker.domain.card import KEPT
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import (
    END,
    START,
    CameraSet,
    CardFact,
    Cleared,
    CopyFinished,
    DriveRegistered,
    Fact,
    Formatted,
    Loaded,
    Moment,
    Pulled,
    Registered,
    Relabelled,
    RuleSet,
    Source,
    UnitFact,
    moment,
)
from tracker.domain.fold import can_step, drives_named, fold, mirrors_of, unknown_drives
from tracker.domain.labels import Found, Labels, labels_of
from tracker.domain.late import corrected
from tracker.domain.permissions import Reason, may_clear
from tracker.domain.rule import acts_from
from tracker.domain.step import place
from tracker.domain.voids import is_void
from tracker.services.errors import Conflict, Refused
from tracker.services.reels import guess, keep_reels, reels_anew
from tracker.services.service import Service, Who, production_row
from tracker.services.voiding import any_unregistered, drop_cards, labels_anew, taken_back
from tracker.services.waiting import collector_waits
from tracker.store import journal
from tracker.store import tables as t
from tracker.store.around import Around, about_the_world, drives_in_use, read_around, write_around
from tracker.store.labels import read_labels, write_labels
from tracker.store.projection import context_for, follow_world, project, read_state
from tracker.wire.canonical import same_body
from tracker.wire.codec import decode
from tracker.wire.faults import BadInput, Fault
from tracker.wire.rows import Rows
from tracker.wire.values import read_time

NOBODY = Who()
MICROSECOND = timedelta(microseconds=1)


@dataclass(slots=True)
class Said:
    """One thing that was said, with where it stands in a file."""

    obj: dict[str, Any]
    file: str = ""
    line: int | None = None


@dataclass(slots=True)
class Logged:
    """What came of it. new: facts logged. again: ids said before. notices: for people."""

    new: list[Fact] = field(default_factory=list)
    again: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)


class _DryRun(Exception):
    """Undoes what was tried."""


def said_in(rows: Iterable[Rows]) -> list[Said]:
    """What files say, in order. Errors: BadInput with the faults of reading."""
    read = list(rows)
    faults = [fault for file in read for fault in file.faults]
    if faults:
        raise BadInput(faults)
    return [Said(obj, file.name, line) for file in read for line, obj in file.rows]


def log_history(
    service: Service, said: Sequence[Said], *, who: Who = NOBODY, dry_run: bool = False
) -> Logged:
    """Take a history as it stands: its clearings were given, its proofs are believed.

    Errors: BadInput with every line at fault; nothing is taken then.
    """
    with collector_waits():
        return _log_history(service, said, who, dry_run)


def _log_history(service: Service, said: Sequence[Said], who: Who, dry_run: bool) -> Logged:
    with service.store.reading() as conn:
        base = max(service.clock(), production_row(conn).last_logged + MICROSECOND)
    facts = _decode(said, base, "history", who, _origin(service))
    # Only what is well formed has one spelling to be compared by.
    digests = [same_body(one.obj) for one in said]
    logged = Logged()
    try:
        with service.store.writing() as conn:
            production = production_row(conn, locked=True)
            if production.last_logged >= base:
                base = production.last_logged + MICROSECOND
                facts = _decode(said, base, "history", who, production.origin)
            fresh = _not_said(conn, said, facts, digests, logged)
            _take(service, conn, production, fresh, said, logged)
            _last_logged(conn, base + len(said) * MICROSECOND)
            if dry_run:
                raise _DryRun
    except _DryRun:
        pass
    finally:
        service.memory.forget()
    return logged


def log_live(
    service: Service,
    said: Sequence[Said | dict[str, Any]],
    *,
    who: Who = NOBODY,
    dry_run: bool = False,
) -> Logged:
    """Take what people tapped, one fact after the other, all or nothing.

    Errors: BadInput, UnknownLabel, Refused (for `cleared`), Conflict.
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
    logged = Logged()
    production = production_row(conn, locked=True)
    now = service.clock()
    at = max(now, production.last_logged + MICROSECOND)
    facts = _decode(said, at, "live", who, production.origin)
    changed = any(map(_about_the_world, facts))
    try:
        for one, sent in zip(said, facts, strict=True):
            fact = _by_our_clock(sent, one, who, now)
            for told, digest in _not_said(conn, [one], [fact], [same_body(one.obj)], logged):
                named = _permit(service, conn, told, one, who)
                _take(service, conn, production, [(named, digest)], [one], logged)
                production = production_row(conn) if changed else production
    finally:
        # Before the lock is given back: if this is undone, the next one gives its world the
        # same count, and what is remembered here would be taken for it.
        if changed:
            service.memory.forget()
    _last_logged(conn, at + len(said) * MICROSECOND)
    return logged


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


def _origin(service: Service) -> str:
    with service.store.reading() as conn:
        return str(production_row(conn).origin)


def _decode(
    said: Sequence[Said], base: datetime, source: Source, who: Who, origin: str
) -> list[Fact]:
    facts: list[Fact] = []
    faults: list[Fault] = []
    for count, one in enumerate(said):
        at = base + count * MICROSECOND
        try:
            facts.append(decode(one.obj, logged_at=at, origin=origin, source=source, by=who.by))
        except BadInput as error:
            faults += [replace(fault, file=one.file, line=one.line) for fault in error.faults]
    if faults:
        raise BadInput(faults)
    return facts


def _not_said(
    conn: Connection,
    said: Sequence[Said],
    facts: Sequence[Fact],
    digests: Sequence[str],
    logged: Logged,
) -> list[tuple[Fact, str]]:
    """Those not said before. Errors: Conflict or BadInput for an id with another body."""
    before = journal.said_before(conn, [fact.id for fact in facts])
    fresh: list[tuple[Fact, str]] = []
    faults = []
    for one, fact, digest in zip(said, facts, digests, strict=True):
        known = before.get(fact.id)
        if known is None:
            before[fact.id] = digest
            fresh.append((fact, digest))
        elif known == digest:
            logged.again.append(fact.id)
        elif one.line is None:
            raise Conflict(fact.id)
        else:
            expected = "the same fact again, or an id of its own"
            faults.append(Fault(one.file, one.line, "id", "an id said before", expected))
    if faults:
        raise BadInput(faults)
    return fresh


def _permit(service: Service, conn: Connection, fact: Fact, one: Said, who: Who) -> Fact:
    """Ask for what needs permission, and name a roll that nobody named."""
    if isinstance(fact, Cleared) and fact.override_reason is None:
        reasons = _may_not_clear(service, conn, fact)
        if reasons:
            raise Refused(fact.card, reasons)
    if isinstance(fact, Pulled | CopyFinished) and fact.measured and not who.reader:
        expected = "false or nothing: only a cart computer's reader counts"
        raise BadInput([Fault(one.file, one.line, "measured", "true", expected)])
    if isinstance(fact, Loaded | Formatted) and fact.camera is not None:
        cameras = service.around(conn).cameras
        if fact.camera not in cameras:
            error = UnknownLabel("camera", fact.camera, cameras)
            _refuse([(fact.id, "camera", error)], {fact.id: one})
    if isinstance(fact, Loaded) and fact.roll is None:
        return replace(fact, guessed_roll=guess(conn, fact))
    return fact


def _may_not_clear(service: Service, conn: Connection, fact: Cleared) -> list[Reason]:
    """Why a card may not be cleared at the moment of a clearing, as the facts up to it have it."""
    card_id = _labels(conn, [fact])[0].card_of(fact)
    state = read_state(conn, card_id)
    if state is None:
        return []
    around = service.around(conn)
    context = around.context
    if mirrors_of(state) or not can_step(state, fact):
        known = journal.facts_of(conn, [card_id])[card_id]
        facts = [f for f in known if isinstance(f, CardFact)]
        context = context_for(conn, {card_id: state}, {card_id: facts}, around)
        until = [f for f in facts if is_void(f) or place(f) <= moment(fact)]
        state = fold(until, context, card_id=card_id)
    return may_clear(state, context, moment(fact))


def _take(
    service: Service,
    conn: Connection,
    production: Row[Any],
    fresh: Sequence[tuple[Fact, str]],
    said: Sequence[Said],
    logged: Logged,
) -> None:
    """Add facts to the journal, and bring the rows up to date."""
    places = {str(one.obj.get("id", "")).lower(): one for one in said}
    facts = [fact for fact, _ in fresh]
    labels, naming = _labels(conn, facts)
    found: Found = []
    if naming:
        labels_of((f for f in facts if isinstance(f, CardFact)), found, labels)
    around = service.memory.look(conn, production)
    found += _unknown_drives(facts, around)
    drives = set(around.context.drives)
    new: list[journal.New] = []
    for fact, digest in fresh:
        subject = _subject(fact, labels, drives, found, logged)
        if subject is not None:
            known = replace(fact, card_id=subject) if isinstance(fact, KEPT) else fact
            new.append(journal.New(known, subject, digest))
    _refuse(found, places)
    if not new:
        return
    journal.add(conn, new)
    logged.new += [one.fact for one in new]
    world = [one.fact for one in new if _about_the_world(one.fact)]
    around = _new_world(conn, production, [one.fact for one in new]) if world else around
    by_card: dict[str, list[CardFact]] = {}
    for one in new:
        if isinstance(one.fact, CardFact):
            by_card.setdefault(one.subject, []).append(one.fact)
    gone = taken_back(conn, [one.fact for one in new])
    project(conn, by_card, around, stepping=not world)
    if gone & {"registered", "relabelled"} or (gone and any_unregistered(conn, by_card)):
        labels, naming = labels_anew(conn), True
    if naming:
        write_labels(conn, labels)
        drop_cards(conn, [card_id for card_id in by_card if not labels.is_card(card_id)])
    if world:
        follow_world(conn, around, world, _earliest(world, around), done=by_card)
    if gone & {"loaded", "roll_renamed"}:
        reels_anew(conn)
    keep_reels(conn, [one.fact for one in new])


def _about_the_world(fact: Fact) -> bool:
    """As `about_the_world`; a fact of a card that is taken back changes that card only."""
    return about_the_world(fact) and not isinstance(fact, CardFact | UnitFact)


def _labels(conn: Connection, facts: Sequence[Fact]) -> tuple[Labels, bool]:
    """The labels that matter, and whether some are given: then, and for many, all there are."""
    naming = any(isinstance(fact, Registered | Relabelled) for fact in facts)
    wanted = sorted({fact.card for fact in facts if isinstance(fact, CardFact)})
    if not naming and len(wanted) <= 50:
        kept = read_labels(conn, wanted)
        if all(kept.known(label) for label in wanted):
            return kept, False
    return read_labels(conn), naming


def _unknown_drives(facts: Sequence[Fact], around: Around) -> Found:
    """Facts that name a drive which nobody registered, not in these facts either."""
    drives = set(around.context.drives)
    drives.update(fact.drive for fact in facts if isinstance(fact, DriveRegistered))
    return unknown_drives(facts, drives)


def _subject(
    fact: Fact, labels: Labels, drives: set[str], found: Found, logged: Logged
) -> str | None:
    """The subject of a fact; None if it is said again in other words, or about nothing known.

    drives: those registered so far; one that is registered now is added.
    """
    if isinstance(fact, DriveRegistered):
        if fact.drive in drives:
            logged.again.append(fact.id)
            return None
        drives.add(fact.drive)
    if not isinstance(fact, CardFact):
        return journal.subject_of(fact)
    if isinstance(fact, Registered):
        if labels.is_card(fact.id):
            return fact.id
        logged.again.append(fact.id)
        return None
    try:
        return labels.card_of(fact)
    except UnknownLabel as error:
        found.append((fact.id, "card", error))
        return None


def _refuse(found: Found, places: dict[str, Said]) -> None:
    """Errors: UnknownLabel or LabelInUse for one thing said alone, else BadInput with all."""
    if not found:
        return
    faults = []
    for fact_id, word, error in found:
        one = places[fact_id]
        if one.line is None and len(places) == 1:
            raise error
        faults.append(Fault(one.file, one.line, word, error.found, error.expected))
    raise BadInput(faults)


def _new_world(conn: Connection, production: Row[Any], new: Sequence[Fact]) -> Around:
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


def _last_logged(conn: Connection, at: datetime) -> None:
    conn.execute(update(t.Production).values(last_logged=at))
