"""Canonical bytes of JSON (RFC 8785), and their SHA-256: what chains and comparisons stand on."""

from __future__ import annotations

import hashlib
from typing import Any

import msgspec
import rfc8785

from tracker.wire.values import SAFE_INTEGER

_sorted = msgspec.json.Encoder(order="sorted").encode


def canonical(obj: Any) -> bytes:
    """The one spelling of a JSON value, in UTF-8.

    Raises ValueError for what JSON readers do not keep: NaN, infinities, integers beyond
    2**53 - 1 (those are strings on the wire), lone surrogates, endless nesting.
    """
    try:
        if _is_plain(obj):
            return _sorted(obj)
        return rfc8785.dumps(obj)
    except UnicodeEncodeError as error:
        raise ValueError("a lone surrogate has no canonical form") from error
    except RecursionError as error:
        raise ValueError("nested too deeply for a canonical form") from error


def _is_plain(obj: Any) -> bool:
    """Whether the quick way spells it as the standard does: tested against the slow one.

    Names in ASCII sort alike in code points and in UTF-16; floats are spelt differently.
    """
    if type(obj) is not dict or not _PLAIN.issuperset(map(type, obj.values())):
        return False
    if not _STRINGS.issuperset(map(type, obj)) or not "".join(obj).isascii():
        return False
    whole = [value for value in obj.values() if type(value) is int]
    return not whole or (max(whole) <= SAFE_INTEGER and min(whole) >= -SAFE_INTEGER)


_PLAIN = frozenset({str, bool, int, type(None)})
_STRINGS = frozenset({str})


def digest(obj: Any) -> str:
    """The SHA-256 of the canonical form, in lower-case hexadecimal."""
    return hashlib.sha256(canonical(obj)).hexdigest()


def same_body(obj: dict[str, Any]) -> str:
    """The digest of what a sender said, whenever it was sent: equal means said twice."""
    return digest({word: value for word, value in obj.items() if word != "sent_at"})
