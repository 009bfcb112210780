"""A list of purchases comes back as it was written, and every fault has its line and its field."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.domain.money import LARGEST, PLACES
from tracker.domain.purchases import Purchase
from tracker.wire.faults import BadInput
from tracker.wire.purchase_list import (
    DRIVE_KINDS,
    LARGEST_CAPACITY,
    SMALLEST_CAPACITY,
    Listed,
    clean,
    read_purchases,
    write_csv,
    write_workbook,
)

HEADER = "PO,Item,Type,Bought or rented,Vendor,Qty,Price each,Currency,Size (TB),Media,Ordered,Due"
GOOD = "PO-7,8 TB drive,drives,bought,Quay,4,199.99,EUR,8,hdd,2026-03-02,2026-04-01"

TEXTS = (
    st.text(
        st.characters(exclude_categories=("C", "Zl", "Zp"), exclude_characters="\x85"),
        min_size=1,
        max_size=30,
    )
    .map(clean)
    .filter(lambda text: text and text.isprintable())
)
FROM = date(2026, 1, 1)
DAYS = st.dates(FROM, date(2027, 12, 31))


@st.composite
def listed(draw: st.DrawFn) -> Listed:
    kind = draw(st.sampled_from(["drives", "cards", "other"]))
    purchase = Purchase(
        order=draw(TEXTS),
        item=draw(TEXTS),
        kind=kind,
        terms=draw(st.sampled_from(["bought", "rented"])),
        vendor=draw(TEXTS),
        quantity=draw(st.integers(1, 100_000)),
        unit_price=draw(st.integers(0, LARGEST)),
        currency=draw(st.sampled_from(sorted(PLACES))),
        ordered=FROM,
        capacity_bytes=draw(st.none() | st.integers(SMALLEST_CAPACITY, LARGEST_CAPACITY)),
        media=draw(st.none() | (st.sampled_from(DRIVE_KINDS) if kind == "drives" else TEXTS)),
        due=draw(st.none() | DAYS),
        warranty_until=draw(st.none() | DAYS),
        return_by=draw(st.none() | DAYS),
        lost_charge=draw(st.none() | st.integers(0, LARGEST)),
    )
    return Listed(0, purchase, draw(st.none() | DAYS))


def bare(found: list[Listed]) -> list[tuple[Purchase, date | None]]:
    return [(one.purchase, one.delivered) for one in found]


LISTS = st.lists(
    listed(), min_size=1, max_size=4, unique_by=lambda one: (one.purchase.order, one.purchase.item)
)


@given(LISTS)
def test_a_list_comes_back_from_csv(said: list[Listed]) -> None:
    assert bare(read_purchases(write_csv(said).encode(), "p.csv")) == bare(said)


@settings(max_examples=40, deadline=None)
@given(LISTS)
def test_a_list_comes_back_from_a_workbook(said: list[Listed]) -> None:
    assert bare(read_purchases(write_workbook(said), "p.xlsx")) == bare(said)


def test_a_spreadsheet_takes_nothing_for_a_formula() -> None:
    (one,) = read_purchases(f"{HEADER}\n{GOOD}".replace("Quay", "=1+1").encode(), "p.csv")
    assert ",'=1+1," in write_csv([one])
    assert bare(read_purchases(write_workbook([one]), "p.xlsx")) == bare([one])


def test_a_crews_own_words_are_read() -> None:
    (one,) = read_purchases(f"{HEADER}\n{GOOD}".encode(), "orders.csv")
    assert one.line == 2
    assert one.purchase.capacity_bytes == 8 * 10**12
    assert one.purchase.unit_price == 19_999
    assert one.purchase.due == date(2026, 4, 1)
    assert one.purchase.lost_charge is None


def faults(text: str) -> list[str]:
    with pytest.raises(BadInput) as error:
        read_purchases(text.encode(), "orders.csv")
    return [fault.message for fault in error.value.faults]


def test_every_fault_is_told_with_its_line_and_its_field() -> None:
    bad = "PO-8,,tapes,leased,Quay,0,1.999,EURO,8,hdd,2026-02-30,soon"
    assert faults(f"{HEADER}\n{GOOD}\n{bad}") == [
        "orders.csv, line 3, Item: found nothing, expected some words on one line, at most 200 "
        "characters.",
        "orders.csv, line 3, Type: found 'tapes', expected drives, cards or other.",
        "orders.csv, line 3, Bought or rented: found 'leased', expected bought or rented.",
        "orders.csv, line 3, Qty: found '0', expected a whole number from 1 to 100,000.",
        "orders.csv, line 3, Currency: found 'EURO', expected a currency by its three letters "
        "(ISO 4217), such as EUR.",
        "orders.csv, line 3, Ordered: found '2026-02-30', expected a day, as 2026-03-02.",
        "orders.csv, line 3, Due: found 'soon', expected a day, as 2026-03-02.",
    ]


def test_amounts_are_read_in_one_way_only() -> None:
    (told,) = faults(f"{HEADER}\n{GOOD.replace('199.99', '1.999')}")
    assert "Price each: found '1.999', expected an amount without thousands marks" in told


def test_no_day_comes_before_the_order() -> None:
    (told,) = faults(f"{HEADER}\n{GOOD.replace('2026-04-01', '2026-03-01')}")
    assert "Due: found '2026-03-01', expected a day not before it was ordered" in told


def test_drives_are_of_a_kind_that_there_is() -> None:
    (told,) = faults(f"{HEADER}\n{GOOD.replace('hdd', 'floppy')}")
    assert "Media: found 'floppy', expected for drives one of: ssd, hdd" in told


def test_each_item_of_an_order_stands_once() -> None:
    (told,) = faults(f"{HEADER}\n{GOOD}\n{GOOD}")
    assert told.startswith("orders.csv, line 3, Item: found '8 TB drive' of order 'PO-7', which")


def test_columns_that_are_missing_twice_or_unknown() -> None:
    told = faults("PO,Order,Colour\nPO-7,PO-7,red")
    assert any("a second column for the same as PO" in one for one in told)
    assert any("Colour: found an unknown column" in one for one in told)
    assert sum("found no column for the" in one for one in told) == 8
