"""One card as its page shows it: what it holds, what may be done, what went wrong, its history."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from tracker.domain.card import CardState
from tracker.domain.counting import why_not
from tracker.domain.dangers import Danger, dangers
from tracker.domain.doubts import labels_out
from tracker.domain.facts import (
    END,
    LEVELS,
    CardFact,
    DamageNoted,
    Moment,
    ReportedMissing,
)
from tracker.domain.fitness import fitness
from tracker.domain.fold import Production
from tracker.domain.mishaps import SEVERITIES
from tracker.domain.needs import needs
from tracker.domain.permissions import may_clear, may_load
from tracker.domain.rolls import Copy, Roll, owes
from tracker.domain.rule import Context, covered, in_words, rank
from tracker.domain.status import CardView, view
from tracker.services import telling
from tracker.services.acts_drive import drives_of_today
from tracker.services.card_lines import CameraLine, CardPage, CopyLine, RollLine, Standing
from tracker.services.looking import doubts, one_card
from tracker.services.service import Service
from tracker.store import card_page as rows
from tracker.store import codes, people_lists

__all__ = ["CardPage", "card_page"]


def card_page(service: Service, label: str) -> CardPage:
    """The card that has a label, or had it last. Errors: UnknownLabel."""
    production, state = one_card(service, label)
    with service.store.reading() as conn:
        found = doubts(conn, service.around(conn))
        names = people_lists.names(conn)
        inside = rows.inside_cameras(conn)
        code = codes.spelled(codes.number_for(conn, state.card_id))
        todays = tuple(drives_of_today(conn))
    own = tuple(doubt for doubt in found if state.label in doubt.cards)
    context = production.context
    now = (service.clock(), *END[1:])
    shown = view(state, context)
    with_whom, since = _with_whom(production, state)
    return CardPage(
        state=state,
        shown=shown,
        need=needs([shown], context, labels_out(own))[0],
        with_whom=with_whom,
        since=since,
        rolls=tuple(_roll(state.rolls[i], state, context, now) for i in state.held),
        earlier=tuple(
            _roll(roll, state, context, now)
            for roll in sorted(state.rolls.values(), key=lambda one: one.position, reverse=True)
            if roll.id not in state.held
        ),
        reasons=tuple(may_clear(state, context, now)),
        rule=in_words(context.rules.main),
        dangers=tuple(_dangers(production, shown)),
        mishaps=tuple(_standing(production, shown)),
        doubts=own,
        cameras=tuple(_cameras(production, state, inside, now)),
        drives=tuple((d.label, d.at(END).place) for d in _usable(context)),
        todays=todays,
        damage=tuple(d for d in state.damage if d.id not in state.damage_settled),
        fitness=fitness(state),
        code=code,
        history=tuple(_history(production, shown, names)),
    )


def _roll(roll: Roll, state: CardState, context: Context, now: Moment) -> RollLine:
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
    )


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
    drive = context.drives[copy.drive].at(now)
    return CopyLine(
        drive=copy.drive,
        level=None if finish is None else LEVELS[rank(finish, roll, context, now)],
        place=drive.place,
        holder=drive.holder,
        made_from=None if finish is None else finish.made_from,
        at=finish.at if finish is not None else copy.attempt.at if copy.attempt else None,
        why=why or why_not(copy, roll, context, now),
    )


def _with_whom(production: Production, state: CardState) -> tuple[str | None, Moment | None]:
    """Who has the card since when, as far as the facts say."""
    opened = state.open_roll()
    if opened is not None:
        return f"in camera {opened.camera}", opened.loaded
    facts = production.facts[state.card_id]
    if state.missing:
        lost = [f for f in facts if isinstance(f, ReportedMissing)]
        last = max(lost, key=lambda fact: fact.occurred_at, default=None)
        seen = f", last seen at {last.place}" if last is not None and last.place else ""
        return f"nobody knows{seen}", None if last is None else _moment(last)
    closed = max(
        (r for r in state.all_closed() if r.camera is not None and r.closed is not None),
        key=lambda roll: roll.closed or END,
        default=None,
    )
    given = state.holder
    if given is not None and (closed is None or (closed.closed or END) <= _moment(given)):
        outside = ", outside the production" if given.outside else ""
        return f"{given.to} ({given.place}{outside})", _moment(given)
    if closed is not None:
        return f"out of camera {closed.camera}; nobody said who has it", closed.closed
    return None, None


def _moment(fact: CardFact) -> Moment:
    return (fact.occurred_at, fact.logged_at, fact.origin, fact.id)


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
    production: Production, state: CardState, inside: dict[str, list[str]], now: Moment
) -> list[CameraLine]:
    """Every camera, those with a free slot first."""
    lines = [
        CameraLine(
            camera,
            tuple(label for label in inside.get(letters, ()) if label != state.label),
            tuple(may_load(state, camera, production.context, now)),
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
                "photos": (fact.photos or ()) if isinstance(fact, DamageNoted) else (),
            }
        )
    return told
