"""The root of a Merkle tree, against the published vectors, and its definition read literally."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.wire.merkle import merkle_root

# The leaves and roots that the Certificate Transparency project publishes for RFC 6962: repository
# transparency-dev/merkle, file testonly/constants.go, LeafInputs and RootHashes.
LEAVES = [
    bytes.fromhex(leaf)
    for leaf in (
        "", "00", "10", "2021", "3031", "40414243", "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]  # fmt: skip
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]


@pytest.mark.parametrize("size", range(9))
def test_the_published_roots(size: int) -> None:
    assert merkle_root(LEAVES[:size]).hex() == ROOTS[size]


def as_the_standard_says(leaves: list[bytes]) -> bytes:
    """MTH of RFC 6962, section 2.1, word by word."""
    n = len(leaves)
    if n == 0:
        return hashlib.sha256().digest()
    if n == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < n:
        k *= 2
    left, right = as_the_standard_says(leaves[:k]), as_the_standard_says(leaves[k:])
    return hashlib.sha256(b"\x01" + left + right).digest()


@given(st.lists(st.binary(max_size=4), max_size=70))
def test_a_list_of_any_length(leaves: list[bytes]) -> None:
    assert merkle_root(leaves) == as_the_standard_says(leaves)
