from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.domain.sizes import NotASize, is_bare, parse_bytes, parse_rate, show_bytes, show_rate


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("1.92 TB", 1_920_000_000_000),
        ("480GB", 480_000_000_000),
        ("480gb", 480_000_000_000),
        ("64 TB", 64_000_000_000_000),
        ("1,92 TB", 1_920_000_000_000),
        ("0,125 TB", 125_000_000_000),
        ("1.92\u00a0TB", 1_920_000_000_000),
        ("931 GiB", 931 * 2**30),
        ("500107862016", 500_107_862_016),
        ("0 GB", 0),
        (" 16 MiB ", 16 * 2**20),
    ],
)
def test_a_size_reads_as_people_write_it(text: str, size: int) -> None:
    assert parse_bytes(text) == size


def test_prefixes_are_those_of_iec_80000_13() -> None:
    """IEC 80000-13: kilo is 1000, kibi is 1024."""
    for power, letter in enumerate("kMGTPE", start=1):
        assert parse_bytes(f"1 {letter}B") == 1000**power
        assert parse_bytes(f"1 {letter.upper()}iB") == 1024**power


def test_a_bare_number_is_in_the_unit_of_the_column() -> None:
    assert parse_bytes("480", unit="GB") == 480_000_000_000
    assert parse_bytes("1.92 TB", unit="GB") == 1_920_000_000_000
    assert is_bare(" 480 ")
    assert not is_bare("480 GB")


@pytest.mark.parametrize(
    "text", ["1,234 GB", "1.234,5", "1 234 GB", "1'234 GB", "1\u2019234 GB", "1,234,567"]
)
def test_a_mark_that_can_mean_thousands_is_refused(text: str) -> None:
    with pytest.raises(NotASize, match="expected"):
        parse_bytes(text)


@pytest.mark.parametrize("text", ["", "TB", "-5 GB", "1e12", "٣ GB", "1.5", "5 GB/s", "480 Gb"])
def test_what_is_no_size_says_what_was_found(text: str) -> None:
    with pytest.raises(NotASize) as refused:
        parse_bytes(text)
    assert refused.value.found == repr(text)


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("450 MB/s", 450_000_000),
        ("450", 450_000_000),
        ("450MBps", 450_000_000),
        ("3600 Mb/s", 450_000_000),
        ("3600 Mbit/s", 450_000_000),
        ("3600 Mbps", 450_000_000),
        ("1 MiB/s", 1_048_576),
        ("2,5 GB/s", 2_500_000_000),
    ],
)
def test_a_rate_tells_bits_from_bytes(text: str, rate: int) -> None:
    assert parse_rate(text, unit="MB/s") == rate


@pytest.mark.parametrize("text", ["450 mb/s", "450 MB", "fast", "", "1.5 B/s"])
def test_a_rate_that_can_mean_two_things_is_refused(text: str) -> None:
    with pytest.raises(NotASize):
        parse_rate(text)


@pytest.mark.parametrize(
    ("size", "text"),
    [
        (0, "0 B"),
        (999, "999 B"),
        (1_000, "1 kB"),
        (500_107_862_016, "500.1 GB"),
        (1_920_000_000_000, "1.92 TB"),
        (999_960_000_000, "1 TB"),
        (2**30, "1.074 GB"),
        (-5_000_000_000, "-5 GB"),
    ],
)
def test_screens_show_four_digits_at_most(size: int, text: str) -> None:
    assert show_bytes(size) == text
    assert show_rate(size) == f"{text}/s"


@given(st.integers(0, 2**63))
def test_what_is_shown_reads_back_within_half_of_the_fourth_digit(size: int) -> None:
    assert abs(parse_bytes(show_bytes(size)) - size) <= size * 0.0005


@given(st.integers(0, 2**63))
def test_whole_bytes_are_exact(size: int) -> None:
    assert parse_bytes(str(size)) == size


@given(st.text(max_size=40))
def test_any_text_is_a_size_or_refused(text: str) -> None:
    for parse in (parse_bytes, parse_rate):
        try:
            assert parse(text) >= 0
        except NotASize as refused:
            assert refused.expected
