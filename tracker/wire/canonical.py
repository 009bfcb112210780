"""Canonical bytes of JSON (RFC 8785), and their SHA-256: what chains and comparisons stand on."""

from __future__ import annotations

import hashlib
from typing import Any

import rfc8785


def canonical(obj: Any) -> bytes:
    """The one spelling of a JSON value, in UTF-8.

    Raises ValueError for what JSON readers do not keep: NaN, infinities, integers beyond
    2**53 - 1 (those are strings on the wire), lone surrogates, endless nesting.
    """
    try:
        return rfc8785.dumps(obj)
    except RecursionError as error:
        raise ValueError("nested too deeply for a canonical form") from error


def digest(obj: Any) -> str:
    """The SHA-256 of the canonical form, in lower-case hexadecimal."""
    return hashlib.sha256(canonical(obj)).hexdigest()


def same_body(obj: dict[str, Any]) -> str:
    """The digest of what a sender said, whenever it was sent: equal means said twice."""
    return digest({word: value for word, value in obj.items() if word != "sent_at"})
