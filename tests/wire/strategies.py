"""Facts of every kind for property tests, drawn from the dataclasses and not from the codec."""

from __future__ import annotations

import uuid
from dataclasses import fields
from datetime import UTC, datetime, timedelta, timezone
from types import NoneType
from typing import Any, Literal, get_args, get_origin, get_type_hints

from hypothesis import strategies as st

from tracker.domain.facts import FACTS, Cleared, Fact

ENVELOPE = {"logged_at", "origin", "source", "clamped", "by", "card_id", "guessed_roll"}
ENVELOPE |= {"device", "raw_occurred_at"}
LABELS = {
    *("card", "drive", "unit", "camera", "roll", "new_label", "new_name", "made_from", "cart"),
    *("reader", "letters", "case", "enclosure", "cards", "not_found", "scenes", "day", "origin"),
    *("day_number", "guessed_roll"),
}
ABOVE_ZERO = {"capacity_bytes", "sustained_write_bytes_per_s"}
SMALL = {"slot", "slots", "copies", "kinds", "off_site", "hold_days", "severity"}
OVERRIDE = {"override_reason", "authorised_by", "promise", "promise_by", "promise_until"}

_printable = st.characters(exclude_categories=("Cc", "Cf", "Cs", "Zl", "Zp", "Zs", "Cn"))
_labels = st.text(_printable, min_size=1, max_size=12) | st.sampled_from(
    ["S-014", "=S-1", "+a", "-b", "@c", "'=d", "''-e", "'f", "a;b", "[1]", "7", "true", "A 1", '"']
)
_texts = st.text(_printable | st.sampled_from(" \t\r\n,;\"'=+-@"), min_size=1, max_size=30).filter(
    lambda text: not text.isspace()
)
_uuids = st.integers(0, 2**128 - 1).map(lambda n: str(uuid.UUID(int=n, version=4)))
_digests = st.binary(min_size=32, max_size=32).map(bytes.hex)
_zones = st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))
times = st.datetimes(
    datetime(1971, 1, 1),  # noqa: DTZ001
    datetime(2199, 12, 30),  # noqa: DTZ001
    timezones=st.just(UTC) | _zones,
)
_big = st.integers(0, 1_000) | st.integers(2**53 - 3, 2**53 + 3) | st.integers(0, 2**63 - 1)
_json = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | _labels,
    lambda inner: st.lists(inner, max_size=2),
    max_leaves=3,
)
_line = st.fixed_dictionaries(
    {"card": _labels, "camera": _labels}, optional={"reason": _json, "margin": _json}
)


def facts(kind: type[Fact], *, envelope: bool = False) -> st.SearchStrategy[Fact]:
    """Any fact of one kind; envelope: with what the service adds."""
    hints = get_type_hints(kind)
    drawn = {
        field.name: _value(field.name, hints[field.name])
        for field in fields(kind)
        if envelope or field.name not in ENVELOPE or field.name in ("logged_at", "origin")
    }
    if kind is not Cleared:
        return st.builds(kind, **drawn)
    plain = {name: drawn[name] for name in drawn if name not in OVERRIDE}
    full = drawn | {name: _value(name, _bare(hints[name])) for name in OVERRIDE}
    return st.builds(kind, **plain) | st.builds(kind, **full)


any_fact = st.sampled_from(FACTS).flatmap(facts)
any_enveloped = st.sampled_from(FACTS).flatmap(lambda kind: facts(kind, envelope=True))


def _bare(hint: Any) -> Any:
    return next(part for part in get_args(hint) if part is not NoneType)


def _value(name: str, hint: Any) -> st.SearchStrategy[Any]:
    if NoneType in get_args(hint):
        return st.none() | _value(name, _bare(hint))
    if get_origin(hint) is Literal:
        return st.sampled_from(get_args(hint))
    if get_origin(hint) is tuple:
        inner = _line if name == "lines" else _value(name, str)
        return st.lists(inner, max_size=3).map(tuple)
    if hint is int:
        small = st.integers(1, 4)
        return small if name in SMALL else _big.map(lambda n: max(n, int(name in ABOVE_ZERO)))
    if hint is float:
        return st.floats(0.001, 999, allow_nan=False) | st.integers(1, 999).map(float)
    return {bool: st.booleans(), datetime: times, str: _words(name)}[hint]


def _words(name: str) -> st.SearchStrategy[str]:
    if name in ("id", "card_id", "roll_id", "target", "damage"):
        return _uuids
    if name in ("sha256", "proof"):
        return _digests
    return _labels if name in LABELS else _texts
