"""Finding a card, a drive, a roll or a camera by what somebody types, or a scanner does."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches
from typing import Any, Literal

from sqlalchemy import Connection

from tracker.domain.codes import LENGTH, BadCode, number_of
from tracker.domain.rule import Context
from tracker.services.codes import NobodysCode, whose
from tracker.services.service import Service
from tracker.services.standing import CopyThere, copies_of
from tracker.store import finding as rows
from tracker.store.around import Around
from tracker.store.states import read_roll

Kind = Literal["card", "drive", "camera", "code", "roll"]

NEAR = 20
"""So many of each kind are shown as near."""
_CLOSE = 5
_LONGER = 2
_LINK = re.compile(r"(?i).*?/c/([^/?#\s]+)/?(?:[?#].*)?")


@dataclass(frozen=True, slots=True)
class Hit:
    """Something that answers to what was asked. why: how, where its label does not say it."""

    kind: Kind
    label: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class RollFound:
    """A roll that answers to a name. on_card: still on its card; open: in the camera."""

    name: str
    card: str
    status: str
    on_card: bool
    open: bool
    covered: bool
    camera: str | None
    opened_at: datetime | None
    copies: tuple[CopyThere, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """What was found. lead: the one thing that was meant, to be shown at once; None else.

    exact: all that bear what was asked, if there are several. moved: a former label, and the card
    that has another by now. near: what looks like it. mistyped: what is wrong with a code.
    """

    asked: str
    lead: Hit | None = None
    exact: tuple[Hit, ...] = ()
    moved: tuple[Hit, ...] = ()
    rolls: tuple[RollFound, ...] = ()
    near: tuple[Hit, ...] = ()
    mistyped: str = ""


@dataclass(frozen=True, slots=True)
class _Known:
    """All that bears a label: cards, drives with their serial numbers, cameras."""

    cards: list[Any]
    drives: dict[str, str | None]
    cameras: list[str]


def find(service: Service, typed: str) -> Found:
    """What somebody means: a label goes before a code, a code before the name of a roll."""
    asked = " ".join(typed.replace("\0", " ").split())
    if not asked:
        return Found("")
    with service.store.reading() as conn:
        around = service.around(conn)
        known = _known(conn, around)
        named = _named(asked, known)
    code = None if named else _code(service, asked)
    if named or code:
        return _led(asked, named or [Hit("code", code or "")])
    with service.store.reading() as conn:
        return _by_more(conn, asked, known, around.context)


def _known(conn: Connection, around: Around) -> _Known:
    drives = {label: drive.registered.serial for label, drive in around.context.drives.items()}
    return _Known(rows.cards(conn), drives, sorted(around.cameras))


def _named(asked: str, known: _Known) -> list[Hit]:
    """What has exactly this label; where nothing has, what has it in another case."""
    every = [Hit("card", row.label) for row in known.cards]
    every += [Hit("drive", label) for label in known.drives]
    every += [Hit("camera", letters) for letters in known.cameras]
    exact = [hit for hit in every if hit.label == asked]
    return exact or [hit for hit in every if hit.label.casefold() == asked.casefold()]


def _led(asked: str, hits: list[Hit]) -> Found:
    """One thing is meant where only one answers; several are shown."""
    if len(hits) == 1:
        return Found(asked, lead=hits[0])
    return Found(asked, exact=tuple(hits))


def _code(service: Service, asked: str) -> str | None:
    """The code in it, alone or in a link; a link leads to its own page, right or wrong."""
    link = _LINK.fullmatch(asked)
    if link:
        return link[1].upper()
    try:
        return whose(service, asked).code
    except (BadCode, NobodysCode):
        return None


def _by_more(conn: Connection, asked: str, known: _Known, context: Context) -> Found:
    """By the name of a roll, a serial number, a former label; else what is near."""
    low = asked.casefold()
    serials = [
        *(Hit("card", row.label, f"serial number {row.serial}") for row in known.cards
          if (row.serial or "").casefold() == low),
        *(Hit("drive", label, f"serial number {serial}") for label, serial in known.drives.items()
          if (serial or "").casefold() == low),
    ]  # fmt: skip
    rolls = tuple(_roll(row, context) for row in rows.rolls_called(conn, asked))
    moved = _moved(conn, low, known)
    on_cards = {roll.card for roll in rolls if roll.on_card}
    if len(rolls) == len(on_cards) == 1 and not serials and not moved:
        return Found(asked, lead=Hit("card", rolls[0].card, f"it holds roll {rolls[0].name}"))
    if len(serials) == 1 and not rolls and not moved:
        return Found(asked, lead=serials[0])
    if serials or rolls or moved:
        return Found(asked, exact=tuple(serials), rolls=rolls, moved=moved)
    return Found(asked, near=_near(conn, asked, known), mistyped=_mistyped(asked))


def _moved(conn: Connection, low: str, known: _Known) -> tuple[Hit, ...]:
    labels = {row.id: row.label for row in known.cards}
    found = {
        (labels[row.card], row.label): Hit("card", labels[row.card], row.label)
        for row in rows.former_labels(conn)
        if row.label.casefold() == low and row.card in labels
    }
    return tuple(found.values())


def _roll(row: Any, context: Context) -> RollFound:
    return RollFound(
        row.name, row.label, row.status, row.held, not row.closed, row.covered, row.camera,
        row.opened_at, copies_of(read_roll(row.state), context),
    )  # fmt: skip


def _mistyped(asked: str) -> str:
    if len(asked) != LENGTH:
        return ""
    try:
        number_of(asked)
    except BadCode as error:
        mistyped = "Whether it is a label or a code, it was mistyped: look again."
        return f"No card or drive has the label {asked}. {mistyped} {error.why}"
    code = asked.upper()
    return (
        f"No card or drive has the label {asked}. As a code {code} is right, but no card or drive "
        "of this production has it."
    )


# What is near


def _near(conn: Connection, asked: str, known: _Known) -> tuple[Hit, ...]:
    """What holds what was asked, and what looks like it, each with its kind."""
    labels = {row.id: row.label for row in known.cards}
    former = {row.label: labels[row.card] for row in rows.former_labels(conn) if row.card in labels}
    found = [
        *(Hit("card", one) for one in _alike(asked, labels.values())),
        *(Hit("card", former[one], f"was {one}") for one in _alike(asked, former)),
        *(Hit("drive", one) for one in _alike(asked, known.drives)),
        *(Hit("camera", one) for one in _alike(asked, known.cameras)),
        *(Hit("card", row.label, f"serial number {row.serial}") for row in known.cards
          if len(asked) > 2 and asked.casefold() in (row.serial or "").casefold()),
        *(Hit("roll", one) for one in _alike(asked, rows.roll_names(conn))),
    ]  # fmt: skip
    return tuple(dict.fromkeys(found))


def _alike(asked: str, known: Iterable[str]) -> list[str]:
    """Names that hold it (but for signs and case), then those that look like it."""
    by_letters: dict[str, list[str]] = {}
    for name in known:
        by_letters.setdefault(_letters(name), []).append(name)
    wanted = _letters(asked)
    if not wanted:
        return []
    held = sorted((k for k in by_letters if wanted in k), key=lambda k: (len(k), k))
    like = [k for k in by_letters if abs(len(k) - len(wanted)) <= _LONGER]
    close = get_close_matches(wanted, like, n=_CLOSE, cutoff=0.6)
    every = [name for key in dict.fromkeys([*held, *close]) for name in by_letters[key]]
    return every[:NEAR]


def _letters(name: str) -> str:
    return "".join(sign for sign in name.casefold() if sign.isalnum())
