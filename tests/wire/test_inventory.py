from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.domain.facts import CameraSet, DriveRegistered, Registered
from tracker.wire.faults import BadInput
from tracker.wire.inventory import read_cameras, read_cards, read_drives

THEN = datetime(2026, 2, 28, tzinfo=UTC)
NOW = datetime(2026, 3, 2, tzinfo=UTC)

POOL = """Label,Type,Size,Make and model,Serial,TBW,Sustained write MB/s,Owner,Notes
S-001,2.5in SSD,1.92 TB,Alder 900,C250,576,480,rental,
S-002,2.5in SSD,480GB,,,,,,bent corner
"""


def cards(text: str | bytes) -> list[Registered]:
    data = text.encode() if isinstance(text, str) else text
    return read_cards(data, "pool.csv", occurred_at=THEN, logged_at=NOW)


def cameras(text: str) -> list[CameraSet]:
    return read_cameras(text.encode(), "cameras.csv", occurred_at=THEN, logged_at=NOW)


def drives(text: str) -> list[DriveRegistered]:
    return read_drives(text.encode(), "drives.csv", occurred_at=THEN, logged_at=NOW)


def said(text: str | bytes) -> str:
    with pytest.raises(BadInput) as refused:
        cards(text)
    return str(refused.value)


def test_a_pool_as_a_crew_keeps_it() -> None:
    first, second = cards(POOL)
    assert first == Registered(
        id=first.id,
        occurred_at=THEN,
        logged_at=NOW,
        origin="files",
        source="history",
        card="S-001",
        media="2.5in SSD",
        capacity_bytes=1_920_000_000_000,
        maker_model="Alder 900",
        serial="C250",
        endurance_tb=576.0,
        sustained_write_bytes_per_s=480_000_000,
        owner="rental",
    )
    assert (second.capacity_bytes, second.endurance_tb) == (480_000_000_000, None)
    assert second.text == "bent corner"
    assert second.logged_at == NOW + timedelta(microseconds=1)


def test_a_list_read_twice_gives_the_same_ids_and_a_drive_is_no_card() -> None:
    assert cards(POOL) == cards(POOL)
    drive = drives("Label,Kind,Size,Place\nS-001,ssd,8 TB,on set\n")[0]
    assert drive.id not in {card.id for card in cards(POOL)}


@pytest.mark.parametrize(
    "header",
    [
        "CARD NO.;media type;Capacity (GB);S/N;Write speed [MB/s];Endurance (TB)",
        "card_label;Media;size gb;Serial no.;sustained, MB/s;rated TBW",
        "Name;Card Type;SPACE: GB;serial number;WRITE MB/sec;TB written",
    ],
)
def test_headers_have_synonyms_and_carry_units(header: str) -> None:
    card = cards(f"{header}\nS-001;SSD;480;X1;450;288\n")[0]
    assert (card.card, card.media, card.serial) == ("S-001", "SSD", "X1")
    assert (card.capacity_bytes, card.sustained_write_bytes_per_s) == (
        480_000_000_000,
        450_000_000,
    )
    assert card.endurance_tb == 288.0


def test_make_and_model_may_stand_in_two_columns() -> None:
    card = cards("Label,Type,Size,Make,Model\nS-1,SSD,1 TB,Alder,900\n")[0]
    assert card.maker_model == "Alder 900"


@pytest.mark.parametrize(
    ("word", "visiting"), [("yes", True), ("Y", True), ("x", True), ("no", False), ("", False)]
)
def test_visiting_is_yes_or_no(word: str, visiting: bool) -> None:
    assert cards(f"Label,Type,Size,Visiting\nS-1,SSD,1 TB,{word}\n")[0].visiting is visiting


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("exFAT", "exfat"),
        ("HFS+", "hfs+"),
        ("Mac OS Extended", "hfs+"),
        ("Mac OS Extended (Journaled)", "hfs+"),
        ("NTFS", "ntfs"),
        ("FAT 32", "fat32"),
        ("UDF 2.5", "udf"),
    ],
)
def test_file_systems_as_people_write_them(said: str, meant: str) -> None:
    camera = cameras(f"Letter,Unit,Formats to\nA,main,{said}\n")[0]
    assert camera.formats_to == meant


def test_cameras_as_a_crew_keeps_them() -> None:
    camera = cameras(
        "Letter,Unit,Slots,Takes,Needs write MB/s,Records\n"
        'A,main,2,2.5in SSD,330,"packed raw, 24 fps"\n'
    )[0]
    assert (camera.letters, camera.slots, camera.takes) == ("A", 2, "2.5in SSD")
    assert camera.needs_write_bytes_per_s == 330_000_000
    assert camera.recording == "packed raw, 24 fps"


def test_drives_as_a_crew_keeps_them() -> None:
    raid, vault = drives(
        "Drive,Type,Capacity,Where\nRAID-1,RAID,64 TB,On-Set\nV-1,hard disk,20TB,offsite\n"
    )
    assert (raid.kind, raid.place, raid.capacity_bytes) == ("raid", "on set", 64 * 10**12)
    assert (vault.kind, vault.place) == ("hdd", "off site")


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_spreadsheets_save_in_several_encodings(encoding: str) -> None:
    assert len(cards(POOL.replace(",", "\t").replace("\n", "\r\n").encode(encoding))) == 2


def test_empty_columns_and_rows_at_the_end_are_passed_over() -> None:
    assert len(cards("Label,Type,Size,,\nS-1,SSD,1 TB,,\n,,,,\n\n")) == 1


def test_a_column_that_has_cells_has_a_name() -> None:
    assert "line 2: found 'x' in column 4, which has no name" in said(
        "Label,Type,Size,\nS-1,SSD,1 TB,x\n"
    )


def test_an_unknown_column_names_the_nearest() -> None:
    message = said(POOL.replace("Serial", "Serail"))
    assert "pool.csv, line 1, Serail: found an unknown column" in message
    assert "the nearest is serial" in message


def test_a_label_stands_on_one_line() -> None:
    assert "line 3, Label: found S-001, which stands on line 2 too" in said(
        POOL.replace("S-002", "S-001")
    )


def test_every_cell_at_fault_is_named_in_the_words_of_the_file() -> None:
    message = said(
        "Label,Type,Size,TBW,Visiting\n"
        "S-1,,480,288,yes\n"
        'S-2,SSD,"1,234 GB",many,perhaps\n'
        ",SSD,1 TB,,\n"
        "S-4,SSD,,,\n"
    )
    assert [line.split(": ")[0] for line in message.splitlines()] == [
        "pool.csv, line 2, Size",
        "pool.csv, line 2, Type",
        "pool.csv, line 3, Size",
        "pool.csv, line 3, TBW",
        "pool.csv, line 3, Visiting",
        "pool.csv, line 4, Label",
        "pool.csv, line 5, Size",
    ]
    assert "such as 480 GB" in message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Label,Size\nS-1,1 TB\n", "no column for the media, expected one called type"),
        ("Label,Type,Size,Capacity\nS-1,SSD,1 TB,1 TB\n", "a second column for the same as Size"),
        ("Label,Type (GB),Size\nS-1,SSD,1 TB\n", "Type (GB): found an unknown column"),
        (b"Label,Type,Size\nS-\xe9,SSD,1 TB\n", "line 2: found bytes that are not UTF-8"),
        (b"", "an empty file"),
    ],
)
def test_what_is_no_list_is_said_plainly(text: str | bytes, words: str) -> None:
    assert words in said(text)


@given(st.binary() | st.text("Label,Type;Size\t\n\"'S1 TBGMK/s()").map(str.encode))
def test_any_bytes_are_a_list_or_refused(data: bytes) -> None:
    for read in (read_cards, read_cameras, read_drives):
        try:
            read(data, "any.csv", occurred_at=THEN, logged_at=NOW)
        except BadInput as refused:
            assert refused.faults
