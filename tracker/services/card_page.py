"""One card as its page shows it: what it holds, what may be done, what went wrong, its history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from tracker.domain import whereabouts
from tracker.domain.card import CardState
from tracker.domain.counting import why_not
from tracker.domain.dangers import Danger, dangers
from tracker.domain.doubts import Doubt, labels_out
from tracker.domain.facts import (
    END,
    LEVELS,
    CardFact,
    DamageNoted,
    Moment,
    ReportedMissing,
    moment,
)
from tracker.domain.fitness import fitness
from tracker.domain.fold import Production
from tracker.domain.mishaps import SEVERITIES
from tracker.domain.needs import needs
from tracker.domain.permissions import may_clear
from tracker.domain.plans import against
from tracker.domain.rolls import Copy, Roll, owes
from tracker.domain.rule import Context, covered, in_words_for, rank
from tracker.domain.status import CardView, view
from tracker.domain.whereabouts import Given, Has
from tracker.services import telling
from tracker.services.acts_drive import drives_of_today, gone_of_today
from tracker.services.card_leave import no_leave, promised
from tracker.services.card_lines import (
    CameraLine,
    CardPage,
    CopyLine,
    MainRoll,
    RollLine,
    Standing,
)
from tracker.services.looking import doubts, one_card
from tracker.services.service import Service
from tracker.store import card_page as rows
from tracker.store import codes, people_lists
from tracker.store.states import read_roll

__all__ = ["CardPage", "card_page"]

LATE = timedelta(minutes=35)
"""What is said later than the "30 min ago" of a form is told with when it was said."""


def card_page(service: Service, label: str) -> CardPage:
    """The card that has a label, or had it last. Errors: UnknownLabel."""
    production, state = one_card(service, label)
    context = production.context
    now = (service.clock(), *END[1:])
    with service.store.reading() as conn:
        found = doubts(conn, service.around(conn))
        names = people_lists.names(conn)
        inside = rows.inside_cameras(conn)
        code = codes.spelled(codes.number_for(conn, state.card_id))
        todays, gone = tuple(drives_of_today(conn)), tuple(gone_of_today(conn))
        mains = _mains(conn, state, context, now)
    own = tuple(doubt for doubt in found if state.label in doubt.cards)
    facts = production.facts[state.card_id]
    shown = view(state, context)
    has = _with_whom(production, state)
    return CardPage(
        state=state,
        shown=shown,
        need=needs([shown], context, labels_out(own))[0],
        with_whom=has.says,
        since=has.since,
        place=has.at,
        rolls=tuple(_roll(state.rolls[i], state, context, now, mains) for i in state.held),
        earlier=tuple(
            _roll(roll, state, context, now, mains)
            for roll in sorted(state.rolls.values(), key=lambda one: one.position, reverse=True)
            if roll.id not in state.held
        ),
        reasons=tuple(may_clear(state, context, now)),
        rule=in_words_for(context.rules, (state.rolls[i] for i in state.held)),
        dangers=tuple(_dangers(production, shown)),
        mishaps=tuple(_standing(production, shown)),
        doubts=own,
        cameras=tuple(_cameras(production, shown, inside, own)),
        drives=tuple((d.label, d.at(END).place) for d in _usable(context)),
        todays=todays,
        todays_gone=gone,
        damage=tuple(d for d in state.damage if d.id not in state.damage_settled),
        fitness=fitness(state),
        code=code,
        history=tuple(_history(production, shown, names)),
        no_leave=tuple(no_leave(state, context, now, facts)),
        promise=promised(state, facts),
    )


def _mains(
    conn: Connection, state: CardState, context: Context, now: Moment
) -> dict[str, MainRoll]:
    """The main roll of each mirror on the card, by the mirror's id."""
    found = {}
    for mirror in state.rolls.values():
        main_id = (context.main_rolls or {}).get(mirror.id)
        row = None if main_id is None else rows.roll_on_card(conn, main_id)
        if row is not None:
            roll = read_roll(row.state)
            copies = tuple(_copies(roll, context, now))
            found[mirror.id] = MainRoll(
                row.label, roll.name, row.held, covered(roll, context, now), copies
            )
    return found


def _roll(
    roll: Roll, state: CardState, context: Context, now: Moment, mains: Mapping[str, MainRoll]
) -> RollLine:
    size, clips = roll.figures.bytes, roll.figures.clips
    return RollLine(
        roll,
        open=roll.id == state.opened,
        held=roll.id in state.held,
        owes=owes(roll),
        covered=covered(roll, context, now),
        bytes=None if size is None else int(size.value),
        clips=None if clips is None else int(clips.value),
        copies=tuple(_copies(roll, context, now)),
        before=tuple(_before(roll, context, now)),
        main=mains.get(roll.id),
    )


def _before(roll: Roll, context: Context, now: Moment) -> list[CopyLine]:
    """The finished copies of what it held before it went into the camera again."""
    why = "it is of what the roll held before"
    kept = sorted(roll.earlier.values(), key=lambda one: one.drive)
    return [_copy(one, roll, context, now, why) for one in kept if one.finish is not None]


def _copies(roll: Roll, context: Context, now: Moment) -> list[CopyLine]:
    """Its copies, those that count first; partitions of one enclosure count once."""
    lines: list[CopyLine] = []
    enclosures: dict[str, str] = {}
    for copy in sorted(roll.copies.values(), key=lambda one: one.drive):
        line = _copy(copy, roll, context, now)
        drive = context.drives[copy.drive]
        if line.counts:
            first = enclosures.setdefault(drive.enclosure, copy.drive)
            if first != copy.drive:
                line = _copy(copy, roll, context, now, f"it is in one enclosure with {first}")
        lines.append(line)
    return sorted(lines, key=lambda line: not line.counts)


def _copy(
    copy: Copy, roll: Roll, context: Context, now: Moment, why: str | None = None
) -> CopyLine:
    finish = None if copy.finish is None else roll.finishes[copy.finish]
    size = None if finish is None else finish.figures.bytes
    drive = context.drives[copy.drive].at(now)
    return CopyLine(
        drive=copy.drive,
        level=None if finish is None else LEVELS[rank(finish, roll, context, now)],
        place=drive.where,
        holder=drive.holder,
        made_from=None if finish is None else finish.made_from,
        bytes=None if size is None else int(size.value),
        at=finish.at if finish is not None else copy.attempt.at if copy.attempt else None,
        why=why or why_not(copy, roll, context, now),
    )


def _with_whom(production: Production, state: CardState) -> Has[Moment]:
    """Who has the card, as far as the facts say."""
    if state.missing:
        lost = [f for f in production.facts[state.card_id] if isinstance(f, ReportedMissing)]
        last = max(lost, key=moment, default=None)
        since = None if last is None else moment(last)
        return whereabouts.missing(None if last is None else last.place, since)
    opened = state.open_roll()
    if opened is not None and opened.camera is not None:
        return whereabouts.in_camera(opened.camera, opened.loaded)
    holder = state.holder
    given = None
    if holder is not None:
        given = Given(holder.to, holder.place, holder.outside, moment(holder))
    closed = [(r.camera, r.closed) for r in state.all_closed()]
    pulls = [(camera, at) for camera, at in closed if camera is not None and at is not None]
    return whereabouts.out_of_a_camera(given, pulls)


def _dangers(production: Production, shown: CardView) -> list[tuple[str, Danger]]:
    facts = {fact.id: fact for fact in production.facts[shown.state.card_id]}
    return [
        (severity, one)
        for severity in SEVERITIES
        for one in dangers([shown], facts, severity=severity)
    ]


def _standing(production: Production, shown: CardView) -> list[Standing]:
    """Every mishap that stands, the worst first."""
    facts = {fact.id: fact.occurred_at for fact in production.facts[shown.state.card_id]}
    found = [
        Standing(
            one,
            None if one.key.roll is None else shown.state.rolls[one.key.roll].name,
            facts.get(one.key.fact),
        )
        for one in shown.mishaps
    ]
    return sorted(found, key=lambda one: SEVERITIES.index(one.mishap.severity))


def _cameras(
    production: Production, card: CardView, inside: dict[str, list[str]], own: Sequence[Doubt]
) -> list[CameraLine]:
    """Every camera, those with a free slot first; judged as a plan of the morning judges it."""
    out = {label: d.says for d in own if d.kind == "probably out" for label in d.cards}
    lines = [
        CameraLine(
            camera,
            tuple(label for label in inside.get(letters, ()) if label != card.label),
            *against(camera, card, production.context, out),
        )
        for letters, camera in sorted(production.cameras.items())
    ]
    return sorted(lines, key=lambda line: line.full)


def _usable(context: Context) -> list[Any]:
    """The drives that copies can be on."""
    drives = sorted(context.drives.values(), key=lambda drive: drive.label)
    return [drive for drive in drives if drive.at(END).usable]


def _history(
    production: Production, shown: CardView, names: dict[str, str]
) -> Sequence[dict[str, Any]]:
    """What happened, newest first, each with its number, who logged it and its photographs."""
    facts = {fact.id: fact for fact in production.facts[shown.state.card_id]}
    told = []
    lines = list(enumerate(telling.history(production, shown), start=1))
    for number, line in reversed(lines):
        fact = facts[line["id"]]
        by = None if fact.by is None else names.get(fact.by, fact.by)
        told.append(
            {
                **line,
                "number": number,
                "at": datetime.fromisoformat(line["at"]),
                "by": by,
                "logged": fact.logged_at if _late(fact) else None,
                "photos": (fact.photos or ()) if isinstance(fact, DamageNoted) else (),
            }
        )
    return told


def _late(fact: CardFact) -> bool:
    """Whether it was said long after it happened; a history always was."""
    return fact.source == "live" and fact.logged_at - fact.occurred_at > LATE
