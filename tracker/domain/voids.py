"""What is left when mistakes are taken out: a void reaches within one subject.

Voiding a void restores. A registration with facts after it cannot be voided, nor a new label
whose old one was registered again: others rest on them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from tracker.domain.facts import (
    AnyVoid,
    DriveRegistered,
    DriveVoided,
    Fact,
    ProductionVoided,
    Registered,
    Relabelled,
    UnitVoided,
    Voided,
)

F = TypeVar("F", bound=Fact)
REGISTRATIONS = (Registered, DriveRegistered)
VOIDS = (Voided, DriveVoided, UnitVoided, ProductionVoided)


def is_void(fact: Fact) -> bool:
    """Whether the fact takes another one back."""
    return isinstance(fact, VOIDS)


def voided_by(facts: Iterable[Fact]) -> dict[str, str]:
    """Facts of one subject that do not count, each with the void that took it back.

    Of voids that void each other, the one logged later counts.
    """
    by_id = {fact.id: fact for fact in facts}
    voids = sorted(
        (fact for fact in by_id.values() if isinstance(fact, VOIDS)), key=_logged, reverse=True
    )
    gone: dict[str, str] = {}
    for void in voids:
        if void.id in gone:
            continue
        target = by_id.get(void.target)
        if target is None or target.id == void.id or target.id in gone:
            continue
        if isinstance(target, VOIDS) and _logged(target) > _logged(void):
            continue
        gone[target.id] = void.id
    for fact in by_id.values():
        if fact.id in gone and _rested_on(fact, by_id.values(), gone):
            del gone[fact.id]
    return gone


def effective(facts: Sequence[F], keep: Iterable[str] = ()) -> list[F]:
    """The facts of one subject that count, voids and what they take back left out.

    keep: ids that cannot be voided, since another subject rests on them.
    """
    if not any(isinstance(fact, VOIDS) for fact in facts):
        return list(facts)
    gone = voided_by(facts)
    kept = set(keep)
    return [
        fact
        for fact in facts
        if (fact.id not in gone or fact.id in kept) and not isinstance(fact, VOIDS)
    ]


def _logged(fact: AnyVoid | Fact) -> tuple[object, ...]:
    return (fact.logged_at, fact.origin, fact.id)


def _rested_on(fact: Fact, others: Iterable[Fact], gone: dict[str, str]) -> bool:
    """Whether facts that count rest on a registration."""
    if not isinstance(fact, REGISTRATIONS):
        return False
    return any(
        other.id not in gone and not is_void(other) and not isinstance(other, REGISTRATIONS)
        for other in others
    )


def in_use_again(facts: Iterable[Fact]) -> set[str]:
    """New labels that cannot be taken back: the old label was registered again since."""
    ordered = sorted(facts, key=_logged)
    last: dict[str, list[str]] = {}
    held: set[str] = set()
    for fact in ordered:
        if isinstance(fact, Relabelled):
            last.setdefault(fact.card, []).append(fact.id)
        elif isinstance(fact, Registered):
            held.update(last.pop(fact.card, ()))
    return held
