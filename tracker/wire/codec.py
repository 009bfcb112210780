"""Facts to and from the one form that they have on the wire: JSON objects.

`decode` takes what a sender may say; what the service adds comes beside it. `decode_envelope`
takes an exported fact with all of that. Both name every field at fault, not only the first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from operator import attrgetter
from typing import Any, NamedTuple

from tracker.domain.facts import Cleared, Fact, Source
from tracker.wire import values
from tracker.wire.faults import BadInput, Fault, nearest, printable, shown
from tracker.wire.fields import BY_EVENT, EVENTS, SERVER_ONLY, SHAPES, VOIDS, Field, Shape
from tracker.wire.values import SAFE_INTEGER, write_time

OVERRIDE = ("override_reason", "authorised_by", "promise", "promise_by", "promise_until")
"""The fields of a clearing against the backup rule: all of them, or none."""

_MOST_UNKNOWN = 20


def decode(
    obj: dict[str, Any], *, logged_at: datetime, origin: str, source: Source, by: str | None = None
) -> Fact:
    """The fact that a sender's object says.

    logged_at: aware, the time that the service gives it. by: the id of who is logged in.
    Raises BadInput with every field at fault.
    """
    shape = _find_shape(obj)
    fields: dict[str, Any] = {
        "logged_at": logged_at, "origin": origin, "source": source, "by": by
    }  # fmt: skip
    if shape is None or not _convert(obj, shape.table, shape.required, fields):
        raise BadInput(_faults(obj, shape, full=False))
    del fields["event"]
    fields.pop("sent_at", None)
    return shape.fact(**fields)


def decode_envelope(obj: dict[str, Any]) -> Fact:
    """The fact that an exported object says, with all that the service added to it.

    Raises BadInput with every field at fault.
    """
    shape = _find_shape(obj)
    fields: dict[str, Any] = {}
    if shape is None or not _convert(obj, shape.full_table, shape.full_required, fields):
        raise BadInput(_faults(obj, shape, full=True))
    del fields["event"]
    return shape.fact(**fields)


def encode(fact: Fact, *, envelope: bool = False) -> dict[str, Any]:
    """A fact as JSON takes it; envelope: with what the service added.

    What nobody said (None) and what is False by default are left out. Times are in UTC.
    """
    obj: dict[str, Any] = {"id": fact.id, "event": fact.event}
    words, values_of, unsaid = (_FULL if envelope else _SENT)[type(fact)]
    for word, value, nothing in zip(words, values_of(fact), unsaid, strict=True):
        if value is None or value is nothing:
            continue
        kind = type(value)
        obj[word] = value if kind is str or kind is bool else _wire_value(value, kind)
    return obj


class _Written(NamedTuple):
    """How a fact's fields are written. unsaid: beside None, what each leaves out."""

    words: tuple[str, ...]
    values_of: Callable[[Fact], tuple[Any, ...]]
    unsaid: tuple[Any, ...]


def _written(fields: Iterable[Field]) -> _Written:
    words, names, quiet = zip(*((f.word, f.attribute, f.quiet) for f in fields), strict=True)
    return _Written(words, attrgetter(*names), tuple(False if one else None for one in quiet))


_FULL = {kind: _written(shape.fields[1:]) for kind, shape in SHAPES.items()}
_SENT = {
    kind: _written(field for field in shape.fields[1:] if field.word not in SERVER_ONLY)
    for kind, shape in SHAPES.items()
}


def _wire_value(value: Any, kind: type) -> Any:
    if kind is datetime:
        return write_time(value)
    if kind is tuple:
        return list(value)
    if kind is int and value > SAFE_INTEGER:
        return str(value)
    if kind is float and value.is_integer() and abs(value) <= SAFE_INTEGER:
        return int(value)
    return value


def _find_shape(obj: dict[str, Any]) -> Shape | None:
    event = obj.get("event")
    if type(event) is not str:
        return None
    if event == "voided":
        subject = next((word for word in ("card", "drive", "unit") if word in obj), None)
        return VOIDS[subject]
    return BY_EVENT.get(event)


def _convert(
    obj: dict[str, Any],
    table: dict[str, tuple[str, values.Convert]],
    required: frozenset[str],
    fields: dict[str, Any],
) -> bool:
    """Add the fields of the fact; False where anything is at fault: the quick way."""
    try:
        for word, value in obj.items():
            attribute, convert = table[word]
            fields[attribute] = convert(value)
    except (KeyError, ValueError):
        return False
    return required <= obj.keys() and not _half_override(obj)


def _half_override(obj: dict[str, Any]) -> bool:
    if obj["event"] != Cleared.event:
        return False
    return 0 < sum(word in obj for word in OVERRIDE) < len(OVERRIDE)


def _faults(obj: dict[str, Any], shape: Shape | None, *, full: bool) -> list[Fault]:
    """Every fault of an object: the slow way, taken only when there is one."""
    if shape is None:
        return [_unknown_event(obj)]
    table = shape.full_table if full else shape.table
    required = shape.full_required if full else shape.required
    faults = [
        *_wrong_values(obj, shape, table),
        *_unknown_fields(obj, table),
        *(
            Fault("", None, field.word, "nothing", field.sort.expected)
            for field in shape.fields
            if field.word in required and field.word not in obj
        ),
    ]
    if _half_override(obj):
        faults += [
            Fault("", None, word, "nothing", f"all of {', '.join(OVERRIDE)}, or none of them")
            for word in OVERRIDE
            if word not in obj
        ]
    return faults


def _wrong_values(
    obj: dict[str, Any], shape: Shape, table: dict[str, tuple[str, values.Convert]]
) -> Iterator[Fault]:
    fields: dict[str, Field] = {field.word: field for field in shape.fields}
    for word, value in obj.items():
        if word not in table:
            continue
        try:
            table[word][1](value)
        except ValueError:
            expected = fields[word].sort.expected if word in fields else values.TIME.expected
            if value is None and not (word in fields and fields[word].required):
                expected += ", or no such field at all"
            yield Fault("", None, word, shown(value), expected)


def _unknown_event(obj: dict[str, Any]) -> Fault:
    event = obj.get("event")
    found = shown(event) if "event" in obj else "nothing"
    hint = nearest(event, EVENTS) if type(event) is str else ""
    return Fault("", None, "event", found, f"the name of an event{hint}")


def _unknown_fields(
    obj: dict[str, Any], table: dict[str, tuple[str, values.Convert]]
) -> Iterator[Fault]:
    unknown = [word for word in obj if word not in table]
    for word in unknown[:_MOST_UNKNOWN]:
        hint = nearest(word, tuple(table))
        expected = f"only fields of {obj['event']}{hint}"
        yield Fault("", None, printable(word), "an unknown field", expected)
    if len(unknown) > _MOST_UNKNOWN:
        more = f"{len(unknown) - _MOST_UNKNOWN} more unknown fields"
        yield Fault("", None, None, more, f"only fields of {obj['event']}")
