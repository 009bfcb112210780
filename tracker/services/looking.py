"""What is true now, read from the rows: for commands, pages and programs."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.exc import SQLAlchemyError

from tracker.domain.card import CardState
from tracker.domain.doubts import (
    Doubt,
    labels_out,
    mirror_wiped_early,
    names_unsure,
    names_used_twice,
    planned_otherwise,
    probably_out,
)
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import LEVELS, CardFact
from tracker.domain.fold import Production
from tracker.domain.mishaps import KINDS
from tracker.domain.needs import IF_OUT, WHO
from tracker.domain.status import view
from tracker.domain.voids import in_use_again
from tracker.services.service import Service
from tracker.store import now_lists, queries
from tracker.store import tables as t
from tracker.store.around import Around
from tracker.store.journal import facts_of, facts_of_kind
from tracker.store.labels import read_labels
from tracker.store.projection import context_for, read_state


def now_for_programs(service: Service) -> dict[str, Any]:
    """What each card needs next, as JSON: names as people know them, null is unknown."""
    with service.store.reading() as conn:
        around = service.around(conn)
        rules, context = around.context.rules.main, around.context
        doubtful = doubts(conn, around)
        return {
            "cards": _cards(conn, doubtful),
            "mishaps": [_mishap(one) for one in queries.mishaps(conn)],
            "rolls_below_rule": queries.below(conn),
            "doubts": [
                {"kind": d.kind, "cards": list(d.cards), "rolls": list(d.rolls), "says": d.says}
                for d in doubtful
            ],
            "rule": {
                "copies": rules.copies,
                "level": rules.level,
                "kinds": rules.kinds,
                "off_site": rules.off_site,
                "receipt": rules.receipt,
                "hold_days": rules.hold_days,
            },
            "time_zone": str(context.zone),
            "day_starts": f"{context.day_starts:%H:%M}",
        }


def all_cards(service: Service) -> list[dict[str, Any]]:
    """Every card as it stands, as JSON."""
    with service.store.reading() as conn:
        return _cards(conn, doubts(conn, service.around(conn)))


def standing_mishaps(service: Service) -> list[dict[str, Any]]:
    """Every mishap that stands, as JSON."""
    with service.store.reading() as conn:
        return [_mishap(one) for one in queries.mishaps(conn)]


def answers(service: Service) -> bool:
    """Whether the database answers, and there is a production in it."""
    try:
        with service.store.reading() as conn:
            return conn.scalar(select(t.Production.id)) is not None
    except SQLAlchemyError:
        return False


def _mishap(one: queries.Standing) -> dict[str, Any]:
    return {
        "card": one.card,
        "kind": one.kind,
        "roll": one.roll,
        "severity": one.severity,
        "drive": one.drive,
        "fact": one.fact,
        "to_do": KINDS[one.kind].to_do,
    }


def _cards(conn: Connection, doubtful: list[Doubt]) -> list[dict[str, Any]]:
    """Every card by label; one that is probably out is told as shot and not copied."""
    out = labels_out(doubtful)
    told = [_card(row) for row in queries.cards(conn)]
    for card in told:
        if card["label"] in out and card["status"] == "loaded":
            card.update(who=WHO["exposed"], next=IF_OUT, may_format=False)
    return told


def _card(row: Any) -> dict[str, Any]:
    return {
        "label": row.label,
        "status": row.status,
        "camera": row.camera,
        "holds": row.holds.split("\n") if row.holds else [],
        "uncovered": row.uncovered.split("\n") if row.uncovered else [],
        "cycles": int(row.cycles),
        "bytes_logged": int(row.bytes_logged),
        "who": row.who,
        "next": row.next,
        "may_format": row.may_format,
    }


def doubts(conn: Connection, around: Around, unsure: Collection[str] | None = None) -> list[Doubt]:
    """What the facts of several cards together make suspicious; computed, never kept.

    unsure: the ids of the cards with a roll on them that is open, or whose name was guessed, if
    they are known already.
    """
    wanted = select(t.Roll.card).where(t.Roll.held, t.Roll.guessed | ~t.Roll.closed).distinct()
    cards = conn.scalars(wanted) if unsure is None else sorted(unsure)
    states = [read_state(conn, card_id) for card_id in cards]
    views = [view(s, around.context, held_only=True) for s in states if s is not None]
    views.sort(key=lambda card: card.label)
    return [
        *probably_out(around.cameras, views),
        *(mirror_wiped_early(label, name) for label, name in now_lists.mirrors_wiped_early(conn)),
        *names_used_twice(now_lists.names_used_twice(conn)),
        *planned_otherwise(now_lists.plans(conn), views),
        *names_unsure(views),
    ]


def any_gone(service: Service) -> bool:
    """Whether a card is missing, set aside or retired with a roll that is not backed up."""
    with service.store.reading() as conn:
        asked = select(t.Card.id).where(
            t.Card.status.in_(("missing", "set aside", "retired")), t.Card.uncovered != ""
        )
        return conn.scalar(asked.limit(1)) is not None


def whole_production(service: Service) -> Production:
    """Every card with all its rolls, as it is kept, and the facts that made its mishaps."""
    with service.store.reading() as conn:
        around = service.around(conn)
        states = {}
        for card_id in conn.scalars(select(t.Card.id)).all():
            state = read_state(conn, card_id, whole=True)
            if state is not None:
                state.rolls = dict(state.rolls)
                states[card_id] = state
        facts = {
            card_id: [f for f in found if isinstance(f, CardFact)]
            for card_id, found in facts_of(conn, states).items()
        }
        others = facts_of_kind(conn, "production")
        return Production(
            context=context_for(conn, states, facts, around),
            labels=read_labels(conn),
            cards=states,
            facts=facts,
            cameras=around.cameras,
            plans=now_lists.plans(conn),
            others=others,
            kept=frozenset(in_use_again(f for found in facts.values() for f in found)),
        )


def card_by_label(conn: Connection, label: str) -> str:
    """The id of the card that has a label, or had it last. Errors: UnknownLabel."""
    asked = (
        select(t.Label.card)
        .where(t.Label.label == label)
        .order_by(t.Label.until.is_not(None), t.Label.until.desc())
    )
    card_id = conn.scalar(asked.limit(1))
    if card_id is None:
        raise UnknownLabel("card", label, conn.scalars(select(t.Label.label)))
    return card_id


def probably_out_now(service: Service) -> set[str]:
    """The labels of the cards that are probably out of the camera that they are said to be in."""
    with service.store.reading() as conn:
        return labels_out(doubts(conn, service.around(conn)))


def one_card(service: Service, label: str) -> tuple[Production, CardState]:
    """One card with all its rolls and its facts, as a production of itself.

    Errors: UnknownLabel.
    """
    with service.store.reading() as conn:
        card_id = card_by_label(conn, label)
        around = service.around(conn)
        state = read_state(conn, card_id, whole=True)
        assert state is not None
        state.rolls = dict(state.rolls)
        facts = [f for f in facts_of(conn, [card_id])[card_id] if isinstance(f, CardFact)]
        return _production(conn, around, state, facts), state


def _production(
    conn: Connection, around: Around, state: CardState, facts: list[CardFact]
) -> Production:
    cards = {state.card_id: state}
    return Production(
        context=context_for(conn, cards, {state.card_id: facts}, around),
        labels=read_labels(conn, list(state.labels)),
        cards=cards,
        facts={state.card_id: facts},
        cameras=around.cameras,
        plans=(),
        others=(),
        kept=frozenset(in_use_again(facts)),
    )


def rolls_by_name(service: Service, name: str) -> list[dict[str, Any]]:
    """The rolls that answer to a name, each with its copies, as JSON.

    Errors: UnknownLabel, with the nearest names.
    """
    with service.store.reading() as conn:
        rolls = queries.rolls_named(conn, name)
        if not rolls:
            raise UnknownLabel("roll", name, conn.scalars(select(t.Roll.name)))
        return [_roll(row, queries.copies_of(conn, row.id)) for row in rolls]


def all_rolls(service: Service) -> list[dict[str, Any]]:
    """Every roll, each with its copies, as JSON."""
    with service.store.reading() as conn:
        copies: dict[str, list[Any]] = {}
        for copy in queries.copies(conn):
            copies.setdefault(copy.roll, []).append(copy)
        return [_roll(row, copies.get(row.id, [])) for row in queries.rolls(conn)]


def _roll(row: Any, copies: Sequence[Any]) -> dict[str, Any]:
    return {
        "roll": row.name,
        "names": row.names.strip("\n").split("\n"),
        "card": row.label,
        "on_card": row.held,
        "closed": row.closed,
        "owes": row.owes,
        "covered": row.covered,
        "loaded_as": row.loaded_as,
        "camera": row.camera,
        "bytes": row.bytes,
        "clips": row.clips,
        "verdict": row.verdict,
        "copies": [_copy(copy) for copy in copies],
    }


def _copy(row: Any) -> dict[str, Any]:
    return {
        "drive": row.drive,
        "level": LEVELS[row.rank],
        "counts": bool(row.sound and row.usable and not row.gone),
        "place": row.place,
        "holder": row.holder,
        "made_from": row.made_from,
        "bytes": row.bytes,
        "clips": row.clips,
        "finished_at": row.finished_at.isoformat(),
    }


def one_drive(service: Service, label: str) -> dict[str, Any]:
    """A drive as it stands, with the rolls on it, as JSON. Errors: UnknownLabel."""
    with service.store.reading() as conn:
        row = queries.drive(conn, label)
        if row is None:
            raise UnknownLabel("drive", label, queries.drive_labels(conn))
        rolls = [
            {
                "roll": roll.name,
                "card": roll.label,
                "level": LEVELS[roll.rank],
                "counts": roll.sound,
                "covered": roll.covered,
                "bytes": roll.bytes,
            }
            for roll in queries.rolls_on(conn, label)
        ]
        return {**_drive(row), "rolls": rolls}


def all_drives(service: Service) -> list[dict[str, Any]]:
    """Every drive as it stands, as JSON."""
    with service.store.reading() as conn:
        rows = [queries.drive(conn, label) for label in queries.drive_labels(conn)]
        return [_drive(row) for row in rows]


def _drive(row: Any) -> dict[str, Any]:
    return {
        "drive": row.label,
        "kind": row.kind,
        "capacity_bytes": row.capacity_bytes,
        "bytes": int(row.bytes),
        "place": row.place,
        "holder": row.holder,
        "seal": row.seal,
        "failed": row.failed,
        "lost": row.lost,
        "returned": row.returned,
    }
