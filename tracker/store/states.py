"""A card's kept state, in pieces: the card itself, and each roll by itself.

A step needs the card and the rolls that the fact is about; the other rolls of a long life stay
where they are until they are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import msgspec

from tracker.domain.card import CardState
from tracker.domain.mishaps import Mishap, MishapKey
from tracker.domain.rolls import Roll

_encoder = msgspec.json.Encoder()
_card = msgspec.json.Decoder(CardState)
_roll = msgspec.json.Decoder(Roll)


class Shelf(dict[str, Roll]):
    """The rolls of a card by id; one that is not here yet is fetched when it is asked for."""

    def __init__(self, fetch: Callable[[str], Roll]) -> None:
        super().__init__()
        self._fetch = fetch

    def get(self, roll_id: str, default: Any = None) -> Any:
        """The roll, fetched if need be; the default if there is none."""
        try:
            return self[roll_id]
        except KeyError:
            return default

    def __missing__(self, roll_id: str) -> Roll:
        roll = self._fetch(roll_id)
        self[roll_id] = roll
        return roll


def write_card(state: CardState) -> bytes:
    """The card without its rolls and its mishaps."""
    return _encoder.encode(replace(state, rolls={}, mishaps={}, _mine=set()))


def write_roll(roll: Roll) -> bytes:
    """One roll, with its copies."""
    return _encoder.encode(roll)


def read_roll(kept: bytes) -> Roll:
    """A roll as it was kept."""
    return _roll.decode(kept)


def read_card(
    kept: bytes,
    rolls: Iterable[tuple[str, bytes]],
    mishaps: Iterable[Mishap],
    fetch: Callable[[str], Roll],
) -> CardState:
    """A card as it was kept, with some of its rolls; the others come when they are asked for."""
    state = _card.decode(kept)
    shelf = Shelf(fetch)
    for roll_id, encoded in rolls:
        shelf[roll_id] = _roll.decode(encoded)
    state.rolls = shelf
    state.mishaps = {mishap.key: mishap for mishap in mishaps}
    return state


def mishap(fact: str, kind: str, roll: str, drive: str, settled_by: str | None) -> Mishap:
    """A mishap from its row, in which nothing is an empty string."""
    return Mishap(MishapKey(fact, kind, roll or None, drive or None), settled_by)
