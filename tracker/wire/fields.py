"""The fields of every event, made once from the facts' own classes.

The type says most of what a field may hold; what it does not say (a label or free text, the
limits of a number) stands in the few tables here, by the field's name.
"""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields
from datetime import datetime
from types import NoneType
from typing import Any, Literal, get_args, get_origin, get_type_hints

from tracker.domain.facts import (
    FACTS,
    WIRE_NAMES,
    CardFact,
    DriveFact,
    Fact,
    UnitFact,
)
from tracker.wire import values
from tracker.wire.values import Convert, Sort

SERVER_ONLY = frozenset(
    {"logged_at", "origin", "source", "clamped", "by", "device", "raw_occurred_at", "card_id"}
    | {"guessed_roll"}
)
"""Fields that the service adds: unknown when a sender gives them."""

ALWAYS_IN_ENVELOPE = frozenset({"logged_at", "origin", "source"})

_LABELS = frozenset(
    {"card", "drive", "unit", "camera", "roll", "new_label", "new_name", "made_from", "cart"}
    | {"reader", "letters", "case", "enclosure", "cards", "not_found", "scenes", "day"}
    | {"day_number", "guessed_roll", "origin"}
)
_IDS = frozenset({"id", "card_id", "roll_id", "target", "damage"})
_DIGESTS = frozenset({"sha256", "proof"})

# The upper limits are common sense, no source: ten years, 32 years in seconds, an exabyte.
_WHOLE = {
    "capacity_bytes": values.whole(1),
    "sustained_write_bytes_per_s": values.whole(1),
    "slot": values.whole(1, 100),
    "slots": values.whole(1, 100),
    "copies": values.whole(1, 100),
    "kinds": values.whole(1, 100),
    "off_site": values.whole(0, 100),
    "hold_days": values.whole(0, 3_650),
    "severity": values.whole(1, 4),
}
_NUMBERS = {
    "endurance_tb": values.number(0, 1e6, above=True),
    "seconds": values.number(0, 1e9),
    "wear_percent": values.number(0, 10_000),
    "temperature_c": values.number(-273.15, 1_000),
}


@dataclass(frozen=True, slots=True)
class Field:
    """One field of an event: its attribute in the fact, its word on the wire, what it may hold.

    quiet: left out when False, which is what its absence means.
    """

    attribute: str
    word: str
    kind: Any
    sort: Sort
    required: bool
    quiet: bool


@dataclass(frozen=True, slots=True)
class Shape:
    """One event as a sender gives it, and with the envelope that the service adds.

    table: word -> (attribute, converter). required: the words that must be there.
    """

    fact: type[Fact]
    fields: tuple[Field, ...]
    table: dict[str, tuple[str, Convert]]
    required: frozenset[str]
    full_table: dict[str, tuple[str, Convert]]
    full_required: frozenset[str]


def subject_of(kind: type[Fact]) -> str | None:
    """The field that names the subject of a fact: card, drive, unit, or None."""
    for parent, subject in ((CardFact, "card"), (DriveFact, "drive"), (UnitFact, "unit")):
        if issubclass(kind, parent):
            return subject
    return None


def _sort_of(name: str, kind: Any) -> Sort:
    if get_origin(kind) is Literal:
        return values.choice(get_args(kind))
    if get_origin(kind) is tuple:
        of = get_args(kind)[0]
        return values.strings(_sort_of(name, str)) if of is str else values.LINES
    if kind is int:
        return _WHOLE.get(name) or values.whole()
    if kind is float:
        return _NUMBERS[name]
    if kind is str and name in _LABELS:
        return values.LABEL
    if kind is str and name in _IDS:
        return values.UUID
    if kind is str and name in _DIGESTS:
        return values.SHA256
    return {str: values.TEXT, bool: values.BOOLEAN, datetime: values.TIME}[kind]


def _bare(hint: Any) -> Any:
    """The type without its None."""
    parts = [part for part in get_args(hint) if part is not NoneType]
    return parts[0] if NoneType in get_args(hint) else hint


def _fields_of(kind: type[Fact]) -> tuple[Field, ...]:
    hints = get_type_hints(kind)
    found = {
        field.name: Field(
            field.name,
            WIRE_NAMES.get(field.name, field.name),
            _bare(hints[field.name]),
            _sort_of(field.name, _bare(hints[field.name])),
            field.default is MISSING,
            field.default is False,
        )
        for field in fields(kind)
    }
    first = ["id", *filter(None, [subject_of(kind)]), "occurred_at"]
    last = ["tapped_by", *(name for name in found if name in SERVER_ONLY)]
    middle = [name for name in found if name not in {*first, *last}]
    return tuple(found[name] for name in (*first, *middle, *last))


def _shape_of(kind: type[Fact]) -> Shape:
    ours = _fields_of(kind)
    table = {field.word: (field.attribute, field.sort.convert) for field in ours}
    event = {"event": ("event", values.choice((kind.event,)).convert)}
    sender = {word: row for word, row in table.items() if word not in SERVER_ONLY}
    required = {field.word for field in ours if field.required and field.word in sender}
    return Shape(
        kind,
        ours,
        event | sender | {"sent_at": ("sent_at", values.read_time)},
        frozenset(required | {"event"}),
        event | table,
        frozenset(required | {"event"} | ALWAYS_IN_ENVELOPE),
    )


SHAPES: dict[type[Fact], Shape] = {kind: _shape_of(kind) for kind in FACTS}
BY_EVENT: dict[str, Shape] = {
    kind.event: shape for kind, shape in SHAPES.items() if kind.event != "voided"
}
VOIDS: dict[str | None, Shape] = {
    subject_of(kind): shape for kind, shape in SHAPES.items() if kind.event == "voided"
}
EVENTS: tuple[str, ...] = tuple(sorted({*BY_EVENT, "voided"}))
