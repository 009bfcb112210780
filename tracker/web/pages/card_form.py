"""What the forms about a card ask, and how it is read: every fault at once, none alone."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from flask import request

from tracker.domain.sizes import NotASize, is_bare, parse_bytes
from tracker.services.card_lines import CardPage, RollLine
from tracker.services.photos import Sent
from tracker.web import forms, look
from tracker.wire.faults import BadInput, Fault
from tracker.wire.rows import refuse

Kind = Literal[
    "text", "long", "whole", "size", "time", "one of", "pick", "tick", "hidden", "roll",
    "copies of", "drive", "made from", "free camera", "full camera", "photos",
]  # fmt: skip
"""`pick` is a choice of two or three that stands open; `copies of` is a roll, or every roll."""

EARLIER = 20
"""Rolls that are not on the card any more, and can still be chosen in a form."""


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a form asks. name: as the act calls it. choices: (value, words)."""

    name: str
    says: str
    kind: Kind = "text"
    needed: bool = False
    choices: Sequence[tuple[str, str]] = ()
    help: str = ""


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
        case "roll" | "copies of":
            return _roll(field, card)
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


def _roll(field: Field, card: CardPage) -> dict[str, Any]:
    given = request.form.get(field.name, "")
    found = {line.roll.id: line.roll.name for line in rolls_of(card)}
    if given and given in found:
        if field.kind == "roll":
            return {field.name: found[given]}
        return {"roll": found[given], "roll_id": given}
    if given or field.needed:
        raise forms.fault(field.name, given or "nothing", "a roll of this card")
    return {field.name: None}


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
    given = forms.text(name, needed=True) or ""
    # As a browser writes it: a day, a T, hours and minutes.
    if not re.fullmatch(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?", given, re.ASCII):
        raise forms.fault(name, given, "a date and a time, as 2026-03-02T14:05")
    try:
        return datetime.fromisoformat(given).replace(tzinfo=look.production().zone)
    except ValueError:
        raise forms.fault(name, given, "a date and a time, as 2026-03-02T14:05") from None


def _photos(name: str) -> list[Sent]:
    files = [one for one in request.files.getlist(name) if one.filename]
    return [Sent(one.filename or "", one.read()) for one in files]
