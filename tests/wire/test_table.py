from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from typing import get_origin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.wire.strategies import any_enveloped
from tracker.domain.facts import Counted, Fact, HealthRead, Noted, Pulled
from tracker.wire.codec import decode_envelope
from tracker.wire.faults import BadInput
from tracker.wire.fields import SHAPES
from tracker.wire.rows import stamped
from tracker.wire.table import read_csv_facts, read_csv_lines, safe_text, write_csv_facts

NOW = datetime(2026, 3, 2, tzinfo=UTC)
ID = "0190b5d4-7c3a-7c1e-8f00-3a5b6c7d8e9"


def read(data: bytes | str) -> list[Fact]:
    return read_csv_facts(data, "log.csv", stamped(NOW, "here", "history"))


def said(data: bytes | str) -> str:
    with pytest.raises(BadInput) as refused:
        read(data)
    return str(refused.value)


TABLE = (
    "id,event,card,occurred_at,bytes,measured,scenes\n"
    f'{ID}1,pulled,S-014,2026-03-02T14:05:00Z,480000000000,true,"12A; 12B"\n'
    f"{ID}2,pulled,S-015,2026-03-02T14:06:00Z,,,\n"
)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_table_reads_whatever_its_delimiter_and_encoding(delimiter: str, encoding: str) -> None:
    first, second = read(TABLE.replace(",", delimiter).encode(encoding))
    assert isinstance(first, Pulled)
    assert isinstance(second, Pulled)
    assert (first.bytes, first.measured, first.scenes) == (480_000_000_000, True, ("12A", "12B"))
    assert (second.bytes, second.measured, second.scenes) == (None, False, None)


def test_every_cell_at_fault_is_named_by_its_line() -> None:
    table = TABLE.replace("480000000000", "480 GB").replace(",,,\n", ",-1,yes,\n")
    assert said(table).splitlines() == [
        "log.csv, line 2, bytes: found '480 GB', expected a whole number of 0 or more "
        "(beyond 9007199254740991 as a string of digits).",
        "log.csv, line 3, bytes: found -1, expected a whole number of 0 or more "
        "(beyond 9007199254740991 as a string of digits).",
        "log.csv, line 3, measured: found 'yes', expected true or false.",
    ]


def test_a_line_is_where_its_row_begins() -> None:
    table = (
        "id,event,card,occurred_at,text\n"
        f'{ID}1,noted,S-014,2026-03-02T14:05:00Z,"two\nlines"\n'
        f"{ID}2,noted,,2026-03-02T14:05:00Z,x\n"
    )
    assert said(table).startswith("log.csv, line 4, card: found nothing")


def test_an_unknown_column_names_the_nearest() -> None:
    assert "byts: found an unknown column" in said(TABLE.replace("bytes", "byts"))
    assert "the nearest is bytes" in said(TABLE.replace("bytes", "byts"))


def test_a_field_of_another_event_is_refused() -> None:
    assert "line 2, seconds: found an unknown field" in said(
        f"id,event,card,occurred_at,text,seconds\n{ID}1,noted,S-014,2026-03-02T14:05:00Z,x,12\n"
    )


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (TABLE.replace('12B"', '12B",stray'), "'stray' beyond the last column"),
        (TABLE.replace(",,,\n", ",,\n"), "found 6 cells, expected 7"),
        (TABLE.replace("S-014", '"S-014'), "cannot be cut into cells"),
        (TABLE.replace("scenes", "bytes"), "bytes: found the column twice"),
        (TABLE.replace("scenes", ""), "which has no name"),
        (TABLE.replace("480000000000", "007"), "found '007'"),
        (TABLE.encode().replace(b"S-014", b"S-\xff"), "found bytes that are not UTF-8"),
        (TABLE.encode("utf-16-le"), "save the table again as CSV in UTF-8"),
        (b"", "an empty file"),
    ],
)
def test_what_is_no_table_of_facts_is_said_plainly(table: str | bytes, words: str) -> None:
    assert words in said(table)


def test_a_formula_is_written_so_that_no_spreadsheet_runs_it() -> None:
    noted = Noted(
        id=f"{ID}1", occurred_at=NOW, logged_at=NOW, origin="here", card="S-014", text="=1+1"
    )
    table = write_csv_facts([noted])
    assert "'=1+1" in table
    again = read(table)[0]
    assert isinstance(again, Noted)
    assert again.text == "=1+1"


def test_numbers_below_nothing_stay_numbers() -> None:
    cold = HealthRead(
        id=f"{ID}1",
        occurred_at=NOW,
        logged_at=NOW,
        origin="here",
        card="S-014",
        tool="reader",
        verdict="good",
        temperature_c=-5.5,
    )
    assert ",-5.5" in write_csv_facts([cold])


def test_a_list_of_none_is_not_the_same_as_no_list() -> None:
    counted = Counted(
        id=f"{ID}1", occurred_at=NOW, logged_at=NOW, origin="here", cards=(), not_found=None
    )
    again = read(write_csv_facts([counted]))[0]
    assert isinstance(again, Counted)
    assert (again.cards, again.not_found) == ((), None)


def test_a_column_means_one_thing_in_every_event() -> None:
    """A column's cells are read by its name alone, so a name may have one kind of value."""
    kinds: dict[str, set[object]] = {}
    for shape in SHAPES.values():
        for field in shape.fields:
            plain = field.kind if field.kind in (int, float, bool) else get_origin(field.kind)
            kinds.setdefault(field.word, set()).add(tuple if plain is tuple else plain)
    mixed = {word for word, found in kinds.items() if len(found & {int, float, bool, tuple}) > 1}
    texts = {word for word, found in kinds.items() if found & {int, float, bool, tuple}}
    assert mixed == set()
    assert all(len(kinds[word]) == 1 for word in texts)


@given(st.lists(any_enveloped, max_size=4))
def test_facts_written_as_a_table_read_back_the_same(facts: list[Fact]) -> None:
    table = write_csv_facts(facts, envelope=True)
    assert read_csv_facts(table.encode(), "out.csv", decode_envelope) == facts


@given(st.lists(any_enveloped, max_size=4))
def test_no_text_cell_begins_as_a_formula(facts: list[Fact]) -> None:
    for row in csv.reader(io.StringIO(write_csv_facts(facts, envelope=True), newline="")):
        for cell in row:
            assert cell[:1] not in {"=", "+", "@", "\t", "\r"}
            assert not cell.startswith("-") or float(cell) < 0


@given(st.text("'=+-@\t\rab", max_size=6), st.text("'=+-@\t\rab", max_size=6))
def test_two_texts_never_become_one(one: str, other: str) -> None:
    assert (safe_text(one) == safe_text(other)) == (one == other)


@given(st.binary() | st.text())
def test_no_bytes_make_a_traceback(data: bytes | str) -> None:
    lines = read_csv_lines(data, "any.csv")
    assert all(fault.message.encode() for fault in lines.faults)
