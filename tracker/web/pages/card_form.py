"""What the forms about a card ask, and how it is read: every fault at once, none alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from flask import request

from tracker.domain.sizes import NotASize, is_bare, parse_bytes
from tracker.services import labels_said
from tracker.services.card_lines import CardPage, RollLine
from tracker.services.photos import Sent
from tracker.web import forms, session
from tracker.web.pages.card_meant import Meant
from tracker.wire.faults import BadInput, Fault
from tracker.wire.rows import refuse

Kind = Literal[
    "text", "long", "whole", "size", "time", "one of", "pick", "tick", "hidden", "roll",
    "any roll", "copies of", "label", "drive", "made from", "free camera", "comes out", "photos",
]  # fmt: skip
"""`pick` is a choice of two or three that stands open; `roll` is one that can be
named, `any roll` goes by its id; `copies of` is one, or those that are meant where none is said;
`comes out` is a card that is in a camera, and with it the camera."""

EARLIER = 20
"""Rolls that are not on the card any more, and can still be chosen in a form."""


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a form asks. name: as the act calls it. choices: (value, words).

    meant: the rolls that are meant where none is chosen.
    """

    name: str
    says: str
    kind: Kind = "text"
    needed: bool = False
    choices: Sequence[tuple[str, str]] = ()
    help: str = ""
    meant: Meant | None = None


def rolls_of(card: CardPage) -> list[RollLine]:
    """The rolls that a form may be about: those on the card, then the latest of the others."""
    return [*card.rolls, *card.earlier[:EARLIER]]


def read(fields: Sequence[Field], card: CardPage) -> dict[str, Any]:
    """What was said, by field. Errors: BadInput, with every field at fault."""
    said: dict[str, Any] = {}
    faults: list[Fault] = []
    for field in fields:
        try:
            said.update(_read(field, card))
        except BadInput as error:
            faults += [_in_words(field, fault) for fault in error.faults]
    refuse(faults)
    return said


def _in_words(field: Field, fault: Fault) -> Fault:
    """The fault, with the field called as the form calls it."""
    return Fault(fault.file, fault.line, f"“{field.says}”", fault.found, fault.expected)


def _read(field: Field, card: CardPage) -> Mapping[str, Any]:
    name = field.name
    match field.kind:
        case "whole":
            return {name: forms.number(name)}
        case "size":
            return {name: _size(name)}
        case "time":
            return {name: _time(name)}
        case "tick":
            return {name: request.form.get(name) == "on"}
        case "one of" | "pick":
            return {name: _one_of(field, [value for value, _ in field.choices])}
        case "roll" | "any roll":
            return {name: _roll(field, card)}
        case "copies of":
            return {"rolls": _copies_of(field, card)}
        case "comes out":
            return _comes_out(field, card)
        case "label":
            return {name: _label(field, card)}
        case "photos":
            return {name: _photos(name)}
        case _:
            return {name: forms.text(name, needed=field.needed)}


def _one_of(field: Field, known: Sequence[str]) -> Any:
    given = request.form.get(field.name, "")
    if not given and not field.needed:
        return None
    if given not in known:
        words = ", ".join(words for _, words in field.choices)
        raise forms.fault(field.name, given or "nothing", f"one of: {words}")
    return {"yes": True, "no": False}.get(given, given)


def _chosen(field: Field, card: CardPage) -> RollLine | None:
    given = request.form.get(field.name, "")
    found = next((line for line in rolls_of(card) if line.roll.id == given), None)
    if found is None and (given or field.needed):
        raise forms.fault(field.name, given or "nothing", "a roll of this card")
    return found


def _roll(field: Field, card: CardPage) -> str | None:
    """What says in a fact which roll is meant: its name, or its id where that is taken."""
    line = _chosen(field, card)
    if line is None or field.kind == "any roll":
        return None if line is None else line.roll.id
    name = card.state.name_of(line.roll.id)
    if name is None:
        raise _namesake(field, line.roll.name, card)
    return name


def _namesake(field: Field, name: str, card: CardPage) -> BadInput:
    """What is said of a name is said of the roll of that name that was opened last."""
    count = len(card.state.by_name[name])
    return forms.fault(
        field.name,
        name,
        f"a roll with a name of its own: {count} rolls of this card were called {name}, and what "
        "is said of that name is said of the one loaded last. Rename this one first",
    )


def _copies_of(field: Field, card: CardPage) -> list[tuple[str, str]]:
    """The names and ids of the roll that was chosen, or of those that are meant plainly."""
    line = _chosen(field, card)
    if line is not None:
        return [(line.roll.name, line.roll.id)]
    drive = request.form.get("drive", "")
    if field.meant is None or not drive:
        return []
    meant = field.meant(card, drive)
    if isinstance(meant, str):
        raise _not_plain(field, meant)
    if len(meant) > 1 and request.form.get("size", "").strip():
        raise _not_plain(field, f"the size can only be that of one of {len(meant)} rolls")
    return [(one.roll.name, one.roll.id) for one in meant]


def _comes_out(field: Field, card: CardPage) -> dict[str, str]:
    """The card that comes out, and the camera that it is in."""
    given = request.form.get(field.name, "")
    for line in card.cameras:
        if given in line.inside:
            return {"camera": line.camera.letters, field.name: given}
    raise forms.fault(field.name, given or "nothing", "a card that is in a camera")


def _not_plain(field: Field, why: str) -> BadInput:
    return BadInput([Fault("", None, field.name, "none", f"one to be chosen, since {why}")])


def _label(field: Field, card: CardPage) -> str | None:
    given = forms.text(field.name, needed=field.needed)
    wrong = given and labels_said.why_not(session.service(), given, card.id)
    if given and wrong:
        raise forms.fault(field.name, given, wrong)
    return given


def _size(name: str) -> int | None:
    given = forms.text(name)
    if given is None:
        return None
    try:
        if is_bare(given):
            raise NotASize(given, f"a unit beside the number, such as {given} GB")
        return parse_bytes(given)
    except NotASize as error:
        raise forms.fault(name, given, error.expected) from None


def _time(name: str) -> datetime:
    return forms.time(name, forms.text(name, needed=True) or "")


def _photos(name: str) -> list[Sent]:
    files = [one for one in request.files.getlist(name) if one.filename]
    return [Sent(one.filename or "", one.read()) for one in files]
