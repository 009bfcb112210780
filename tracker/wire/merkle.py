"""The root of a Merkle tree (RFC 6962, section 2.1): one digest that stands for a whole list."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence


def merkle_root(leaves: Sequence[bytes]) -> bytes:
    """The 32 bytes of the root; of no leaves it is the SHA-256 of nothing."""
    if not leaves:
        return hashlib.sha256().digest()
    level = [hashlib.sha256(b"\0" + leaf).digest() for leaf in leaves]
    while len(level) > 1:
        # One that is left over goes up as it is, which gives the standard's split.
        odd = level[len(level) & ~1 :]
        pairs = zip(level[::2], level[1::2], strict=False)
        level = [hashlib.sha256(b"\1" + left + right).digest() for left, right in pairs] + odd
    return level[0]
