"""Who has a card, in words: in a camera, missing, given to somebody, or nobody said."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Generic, TypeVar

from tracker.domain.facts import Moment

T = TypeVar("T", datetime, Moment)

NOBODY_SAID = "nobody said who has it"


@dataclass(frozen=True, slots=True)
class Has(Generic[T]):
    """Who has it. says: None where nothing is known. ask: whom it can be asked of; "" if nobody.

    since: None is unknown. at: the kind of place that was said with it, "" if none was.
    """

    says: str | None
    ask: str = NOBODY_SAID
    since: T | None = None
    at: str = ""


def in_hands(to: str, place: str, outside: bool = False) -> str:
    """To whom a card was given, and where; a place of the same word is said once."""
    more = [] if _words(place) in _words(to) else [place]
    more += ["outside the production"] if outside else []
    return f"{to} ({', '.join(more)})" if more else to


def _words(text: str) -> str:
    return " " + " ".join(re.findall(r"\w+", text.casefold())) + " "


def in_camera(letters: str, since: T | None) -> Has[T]:
    """A card that is in a camera."""
    return Has(f"in camera {letters}", f"camera {letters}", since)


def missing(place: str | None, since: T | None) -> Has[T]:
    """A card that is reported missing. place: where it was seen last."""
    return Has(f"nobody knows{f', last seen at {place}' if place else ''}", "", since)


@dataclass(frozen=True, slots=True)
class Given(Generic[T]):
    """To whom a card was given last, as the fact says."""

    to: str
    place: str
    outside: bool
    at: T


def out_of_a_camera(given: Given[T] | None, pulls: Iterable[tuple[str, T]]) -> Has[T]:
    """A card that is in no camera. pulls: out of which camera each of its rolls came, and when.

    A pull after it was given makes that doubtful.
    """
    camera, pulled = max(pulls, key=lambda pull: pull[1], default=(None, None))
    if given is not None and (pulled is None or pulled <= given.at):
        words = in_hands(given.to, given.place, given.outside)
        return Has(words, given.to, given.at, given.place)
    if pulled is not None:
        return Has(f"out of camera {camera}; {NOBODY_SAID}", NOBODY_SAID, pulled)
    return Has(None)
