"""What people say of a card itself: in the pool, whose hands it is in, whether it is fit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Literal

from tracker.domain.facts import BodyPart, CardPlace
from tracker.services.acts import act, act_on, obj
from tracker.services.as_drawn import Check
from tracker.services.logging import Logged
from tracker.services.service import Service, Who

Leaving = Literal["worn", "failed", "lost", "sold", "returned", "other"]


def register_card(
    service: Service,
    who: Who,
    card: str,
    media: str,
    capacity_bytes: int,
    *,
    at: datetime | None = None,
    tap: str | None = None,
    **more: Any,
) -> Logged:
    """A card came into the pool. more: the other fields of `registered`."""
    return act(
        service, who, "registered", at, tap, card=card, media=media,
        capacity_bytes=capacity_bytes, **more,
    )  # fmt: skip


def take_in_visiting(
    service: Service,
    who: Who,
    card: str,
    media: str,
    capacity_bytes: int,
    *,
    owner: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Somebody else's card passes through: it is copied, never formatted by us, given back."""
    return register_card(
        service, who, card, media, capacity_bytes, owner=owner, visiting=True, at=at, tap=tap
    )


def relabel(
    service: Service,
    who: Who,
    card: str,
    new_label: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The card carries another label from now on. Errors: LabelInUse."""
    return act(service, who, "relabelled", at, tap, card=card, new_label=new_label)


def check_in(
    service: Service,
    who: Who,
    card: str,
    found: Literal["empty", "footage"],
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Somebody looked at what is on the card."""
    return act(service, who, "checked_in", at, tap, card=card, found=found, text=text)


def hand_over(
    service: Service,
    who: Who,
    cards: Sequence[str],
    to: str,
    place: CardPlace,
    *,
    outside: bool = False,
    at: datetime | None = None,
    tap: str | None = None,
    check: Check | None = None,
) -> Logged:
    """Cards changed hands. outside: out of the production."""
    objs = [
        obj("handed_over", card=card, to=to, place=place, outside=outside)
        for card in dict.fromkeys(cards)
    ]
    return act_on(service, who, objs, at, tap, check)


def set_aside(
    service: Service,
    who: Who,
    card: str,
    reason: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The card is held out of use."""
    return act(service, who, "set_aside", at, tap, card=card, reason=reason)


def return_to_service(
    service: Service,
    who: Who,
    card: str,
    reason: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A card that was set aside is used again."""
    return act(service, who, "returned_to_service", at, tap, card=card, reason=reason)


def note_damage(
    service: Service,
    who: Who,
    card: str,
    part: BodyPart,
    severity: int,
    text: str,
    *,
    photos: tuple[str, ...] | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Damage: severity 1 cosmetic, 2 watch, 3 do not use, 4 dangerous."""
    return act(
        service, who, "damage_noted", at, tap, card=card, part=part, severity=severity,
        text=text, photos=photos,
    )  # fmt: skip


def settle_damage(
    service: Service,
    who: Who,
    card: str,
    damage: str,
    text: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Damage was dealt with. damage: the id of the fact that noted it."""
    return act(service, who, "damage_settled", at, tap, card=card, damage=damage, text=text)


def retire(
    service: Service,
    who: Who,
    card: str,
    reason: Leaving,
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The card is out of the pool for good."""
    return act(service, who, "retired", at, tap, card=card, reason=reason, text=text)


def report_missing(
    service: Service,
    who: Who,
    card: str,
    *,
    place: str | None = None,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Nobody knows where the card is. place: where it was seen last."""
    return act(service, who, "reported_missing", at, tap, card=card, place=place, text=text)


def found(
    service: Service,
    who: Who,
    card: str,
    *,
    place: str | None = None,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The card is back in sight."""
    return act(service, who, "found", at, tap, card=card, place=place, text=text)


def settle(
    service: Service,
    who: Who,
    card: str,
    target: str,
    mishap: str,
    reason: str,
    *,
    roll: str | None = None,
    drive: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A mishap was looked at and no longer stands. target: the id of the fact that made it.

    roll and drive, by name, narrow it to one of several.
    """
    return act(
        service, who, "settled", at, tap, card=card, target=target, mishap=mishap, roll=roll,
        drive=drive, reason=reason,
    )  # fmt: skip


def note(
    service: Service,
    who: Who,
    card: str,
    text: str,
    *,
    roll: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A remark about a card, or about a roll on it."""
    return act(service, who, "noted", at, tap, card=card, text=text, roll=roll)
