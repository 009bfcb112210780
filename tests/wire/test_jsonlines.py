from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.wire.strategies import any_enveloped
from tracker.domain.facts import Fact
from tracker.wire import jsonlines
from tracker.wire.codec import decode_envelope, encode
from tracker.wire.faults import BadInput
from tracker.wire.jsonlines import read_json_facts, read_json_lines, write_json_line
from tracker.wire.rows import stamped

START = datetime(2026, 3, 2, tzinfo=UTC)
LINE = (
    b'{"id":"0190b5d4-7c3a-7c1e-8f00-3a5b6c7d8e9f","event":"noted","card":"S-014",'
    b'"occurred_at":"2026-03-02T14:05:00Z","text":"caf\xc3\xa9"}'
)


def message(data: bytes | str) -> str:
    read = read_json_lines(data, "week.jsonl")
    assert len(read.faults) == 1
    return read.faults[0].message


def test_lines_keep_their_numbers_and_blank_ones_are_passed_over() -> None:
    read = read_json_lines(b"\xef\xbb\xbf" + LINE + b"\r\n\n \t\n" + LINE, "week.jsonl")
    assert [line for line, _ in read.rows] == [1, 4]
    assert read.faults == []


def test_only_a_line_break_ends_a_line() -> None:
    read = read_json_lines('{"text":"a\u2028b\u0085c"}\n', "week.jsonl")
    assert read.rows == [(1, {"text": "a\u2028b\u0085c"})]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b'{"a":1,"a":1}', "the field a twice"),
        (b'{"a":{"b":1,"b":2}}', "the field b twice"),
        (b'{"a":NaN}', "found NaN"),
        (b'{"a":-Infinity}', "found -Infinity"),
        (b'{"a":1e999}', "found 1e999"),
        (b'{"a":' + b"9" * 5_000 + b"}", "thousands of digits"),
        (b"[1]", "found [1], expected a JSON object"),
        (b'"x"', "expected a JSON object"),
        (b'{"a":1', "expected JSON"),
        (b'{"a":"\xff"}', "UTF-8"),
        (b'{"a":"\xc0\xaf"}', "UTF-8"),
        (b'\xff\xfe{\x00"\x00', "UTF-16"),
        (b'{"a":"\x00"}', "expected JSON"),
        (b'{"a":' * 200_000, "nested"),
        (b"[" * 200_000, "nested"),
        ('{"a":"\ud800"}', "UTF-8"),
    ],
)
def test_a_bad_line_is_named_and_said_plainly(data: bytes | str, said: str) -> None:
    assert said in message(data)
    assert message(data).startswith("week.jsonl, line 1")


def test_all_bad_lines_of_a_file_are_named_together() -> None:
    data = b"\n".join([LINE, b"{", b'{"event":"noted"}', LINE])
    with pytest.raises(BadInput) as refused:
        read_json_facts(data, "week.jsonl", stamped(START, "here", "history"))
    assert [fault.line for fault in refused.value.faults] == [2, 3, 3, 3, 3]


def test_facts_of_one_file_are_logged_a_microsecond_apart() -> None:
    facts = read_json_facts(LINE + b"\n" + LINE, "week.jsonl", stamped(START, "here", "history"))
    assert [fact.logged_at - START for fact in facts] == [
        timedelta(0),
        timedelta(microseconds=1),
    ]
    assert {fact.source for fact in facts} == {"history"}


@given(st.lists(any_enveloped, max_size=4))
def test_facts_written_as_json_lines_read_back_the_same(facts: list[Fact]) -> None:
    text = "".join(write_json_line(encode(fact, envelope=True)) for fact in facts)
    assert read_json_facts(text.encode(), "out.jsonl", decode_envelope) == facts


@given(st.binary() | st.text())
def test_no_bytes_make_a_traceback(data: bytes | str) -> None:
    read = read_json_lines(data, "any.jsonl")
    assert all(fault.message.encode() for fault in read.faults)


@st.composite
def any_line(draw: st.DrawFn) -> tuple[bytes, bool]:
    """A line with an object, however it is spelt, and whether it says a field twice."""
    obj = draw(
        st.dictionaries(
            st.text(max_size=8) | st.sampled_from(["a", "b", '":', "id"]),
            st.text(max_size=12) | st.booleans() | st.integers() | st.floats() | st.none()
            | st.lists(st.integers(), max_size=2)
            | st.sampled_from(['":', '\\": 1', "\t", "  "]),
            max_size=5,
        )
    )  # fmt: skip
    marks = draw(
        st.sampled_from([(", ", ": "), (",", ":"), (" , ", " : "), (",", "\t:"), (",  ", ":  ")])
    )
    ascii_only, twice = draw(st.booleans()), draw(st.booleans())
    line = json.dumps(obj, separators=marks, ensure_ascii=ascii_only)
    if twice and obj:
        name = json.dumps(next(iter(obj)), ensure_ascii=ascii_only)
        line = line[:-1] + f"{marks[0]}{name}{marks[1]}1}}"
    return line.encode("utf-8", "surrogatepass"), bool(twice and obj)


@given(any_line())
def test_the_quick_way_reads_what_the_slow_way_reads(said: tuple[bytes, bool]) -> None:
    raw, twice = said
    quick = jsonlines._quickly(raw, [raw])
    if quick is not None:
        assert not twice
        slow = jsonlines._object(raw)
        assert quick == [slow]
        assert [type(value) for value in quick[0].values()] == [type(v) for v in slow.values()]


@given(st.lists(st.just(b"") | any_line().map(lambda said: said[0]), max_size=4))
def test_a_file_reads_as_its_lines_read_one_by_one(lines: list[bytes]) -> None:
    read = read_json_lines(b"\n".join(lines), "week.jsonl")
    one_by_one = [read_json_lines(line, "week.jsonl") for line in lines]
    assert read.rows == [
        (number, obj) for number, one in enumerate(one_by_one, 1) for _, obj in one.rows
    ]
    assert [fault.line for fault in read.faults] == [
        number for number, one in enumerate(one_by_one, 1) for _ in one.faults
    ]
