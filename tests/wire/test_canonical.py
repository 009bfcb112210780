"""The canonical form against the examples that RFC 8785 itself publishes."""

from __future__ import annotations

import hashlib
import json
import struct
from typing import Any

import pytest

from tracker.wire.canonical import canonical, digest, same_body


def test_rfc_8785_section_3_2_2_its_first_example() -> None:
    sent = r"""{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"""
    expected = (
        r'{"literals":[null,true,false],'
        r'"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        r'"string":"€$\u000f\nA' + r"'" + r'B\"\\\\\"/"}'
    )
    assert canonical(json.loads(sent)) == expected.encode()


def test_rfc_8785_section_3_2_3_sorts_by_utf_16_code_units() -> None:
    sent = r"""{"\u20ac": "Euro Sign", "\r": "Carriage Return",
      "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
      "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control",
      "\u00f6": "Latin Small Letter O With Diaeresis"}"""
    assert list(json.loads(canonical(json.loads(sent))).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


@pytest.mark.parametrize(
    ("bits", "text"),
    [
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("41b3de4355555555", "333333333.3333333"),
    ],
)
def test_rfc_8785_appendix_b_numbers(bits: str, text: str) -> None:
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == text.encode()


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53, "\ud800"])
def test_what_json_readers_do_not_keep_has_no_canonical_form(value: Any) -> None:
    with pytest.raises(ValueError, match=r".+"):
        canonical({"x": value})


def test_endless_nesting_has_no_canonical_form() -> None:
    deep: Any = 1
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(ValueError, match="nested"):
        canonical(deep)


def test_the_digest_is_of_the_canonical_bytes() -> None:
    assert digest({"b": 1, "a": 2.0}) == hashlib.sha256(b'{"a":2,"b":1}').hexdigest()


def test_a_body_is_the_same_whenever_it_was_sent() -> None:
    said = {"id": "1", "event": "noted"}
    assert same_body(said | {"sent_at": "now"}) == same_body(said | {"sent_at": "later"})
    assert same_body(said | {"text": "x"}) != same_body(said)
