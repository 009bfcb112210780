"""The columns of a crew's own inventories: what people call them, and how their cells read.

Headers are compared without case, spaces and punctuation. A unit may stand in the header
("Size (GB)", "Sustained write MB/s"); one in the cell goes before it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from tracker.domain.sizes import NotASize, is_bare, parse_bytes, parse_rate

Cell = str | int | float | bool
Read = Callable[[str, str | None], Cell]
"""What a cell says, given the unit of its header; NotASize where it cannot be read."""

_UNIT = re.compile(
    r"(?P<rest>.*?)[\s,:(\[]+(?P<unit>bytes?|[kmgtpe]i?b(?:ytes|its?)?(?:\s*/\s*s(?:ec)?|ps)?|[tp]bw)"
    r"\s*[)\]]?\s*",
    re.ASCII | re.IGNORECASE | re.DOTALL,
)
_SMALLEST_BARE = 1_000_000
_TERABYTE = 10**12


@dataclass(frozen=True, slots=True)
class Column:
    """One field of a fact, what its column may be called, and how a cell is read.

    several: more than one column may tell of the field (make, model); their words are joined.
    expected: what a cell should hold, where the words of the wire would not help.
    """

    field: str
    names: tuple[str, ...]
    read: Read
    takes_unit: bool = False
    several: bool = False
    expected: str = ""


def squash(text: str) -> str:
    """A text without case, spaces and punctuation."""
    return "".join(c for c in text.casefold() if c.isalnum())


def split_unit(header: str) -> tuple[str, str | None]:
    """A header without its unit, squashed, and the unit: ("size", "GB")."""
    match = _UNIT.fullmatch(header)
    return (squash(match["rest"]), match["unit"]) if match else (squash(header), None)


def _plain(cell: str, _: str | None) -> Cell:
    return cell


def _size(cell: str, unit: str | None) -> Cell:
    size = parse_bytes(cell, unit=unit or "B")
    if unit is None and is_bare(cell) and size < _SMALLEST_BARE:
        raise NotASize(cell, f"a unit beside the number, such as {cell} GB")
    return size


def _rate(cell: str, unit: str | None) -> Cell:
    rate = parse_rate(cell, unit=unit or "B/s")
    if unit is None and is_bare(cell) and rate < _SMALLEST_BARE:
        raise NotASize(cell, f"a unit beside the number, such as {cell} MB/s")
    return rate


def _endurance(cell: str, unit: str | None) -> Cell:
    """Terabytes; "TBW" is terabytes written."""
    bare = re.sub(r"(?i)(?<=[tp]b)\s*w(?:ritten)?$", "", cell)
    named = re.sub(r"(?i)w$", "", unit) if unit else "TB"
    return parse_bytes(bare, unit=named) / _TERABYTE


def _count(cell: str, _: str | None) -> Cell:
    if not re.fullmatch(r"[0-9]{1,9}", cell, re.ASCII):
        raise NotASize(cell, "a whole number")
    return int(cell)


def _one_of(words: Mapping[str, Cell], expected: str) -> Read:
    def read(cell: str, _: str | None) -> Cell:
        word = squash(cell)
        if word not in words:
            raise NotASize(cell, expected)
        return words[word]

    return read


def _words(**spellings: str) -> dict[str, Cell]:
    """Squashed spelling -> the word of the wire, from lists of spellings."""
    return {
        squash(said): word.replace("_", " ")
        for word, all_said in spellings.items()
        for said in all_said.split(",")
    }


_YES_NO = _one_of(
    dict.fromkeys(("yes", "y", "true", "x", "1"), True)
    | dict.fromkeys(("no", "n", "false", "0"), False),
    "yes or no",
)
_FILE_SYSTEMS = _words(
    exfat="exFAT",
    fat32="FAT32",
    apfs="APFS,Apple File System",
    ntfs="NTFS",
    udf="UDF,UDF 2.5,UDF 2.50",
    other="other",
) | {squash(said): "hfs+" for said in (
    "HFS+", "HFS Plus", "HFS+ journaled", "Mac OS Extended", "macOS Extended", "OS X Extended",
    "Mac OS Extended (Journaled)", "macOS Extended (Journaled)", "Mac OS Extended Journaled",
)}  # fmt: skip
_FILE_SYSTEM = _one_of(_FILE_SYSTEMS, "exFAT, FAT32, HFS+, APFS, NTFS, UDF or other")
_KIND = _one_of(
    _words(
        ssd="SSD,solid state,solid state drive,NVMe,NVMe SSD",
        hdd="HDD,hard disk,hard drive,disk,hard disk drive",
        raid="RAID,array,disk array,RAID 5,RAID 6,RAID 10",
        tape="tape,LTO",
        other="other",
    ),
    "ssd, hdd, raid, tape or other",
)
_PLACE = _one_of(
    _words(
        on_set="on set",
        near_set="near set",
        in_transit="in transit",
        off_site="off site",
        lab="lab",
        other="other",
    ),
    "on set, near set, in transit, off site, lab or other",
)


def _column(
    field: str,
    names: str,
    read: Read = _plain,
    *,
    takes_unit: bool = False,
    several: bool = False,
    expected: str = "",
) -> Column:
    squashed = tuple(squash(name) for name in names.split(","))
    return Column(field, squashed, read, takes_unit, several, expected)


_CAPACITY = _column(
    "capacity_bytes",
    "size,capacity,space",
    _size,
    takes_unit=True,
    expected="a size with its unit, such as 1.92 TB",
)
_MAKER_MODEL = _column(
    "maker_model",
    "make and model,maker and model,maker model,make model,model,make,maker,brand",
    several=True,
)
_SERIAL = _column("serial", "serial,serial number,serial no,S/N")
_PURCHASE = _column("purchase", "purchase,purchase order,order,order number,order no,PO")

CARDS = (
    _column("card", "label,card,card label,name,number,no,card number,card no"),
    _column("media", "type,media,media type,card type,kind"),
    _CAPACITY,
    _MAKER_MODEL,
    _SERIAL,
    _column("endurance_tb", "TBW,endurance,rated TBW,endurance TBW,TB written", _endurance,
            takes_unit=True, expected="terabytes written, such as 600 TBW"),
    _column(
        "sustained_write_bytes_per_s",
        "sustained write,sustained write speed,sustained,write speed,write,guaranteed write",
        _rate,
        takes_unit=True,
        expected="a rate with its unit, such as 450 MB/s",
    ),
    _column("owner", "owner,owned by,owned or rented,ownership"),
    _column("case", "case,pouch,box"),
    _column("visiting", "visiting,visitor,visiting card", _YES_NO),
    _PURCHASE,
    _column("text", "notes,note,remarks,remark,comments,comment,text"),
)  # fmt: skip
CAMERAS = (
    _column("letters", "letter,letters,camera,camera letter,name,position"),
    _column("unit", "unit,crew unit"),
    _column("slots", "slots,card slots,number of slots", _count),
    _column("takes", "takes,media,media type,takes media,card type"),
    _column(
        "needs_write_bytes_per_s",
        "needs write,needs,write speed,required write,required write speed,minimum write",
        _rate,
        takes_unit=True,
        expected="a rate with its unit, such as 450 MB/s",
    ),
    _column("formats_to", "formats to,file system,format", _FILE_SYSTEM),
    _column("recording", "records,recording,recording format,codec"),
    _column("kind", "kind,type,camera type"),
)
DRIVES = (
    _column("drive", "label,drive,drive label,name"),
    _column("kind", "kind,type,drive type", _KIND),
    _CAPACITY,
    _column("place", "place,location,where,kept at", _PLACE),
    _MAKER_MODEL,
    _SERIAL,
    _column("enclosure", "enclosure,shared enclosure"),
    _PURCHASE,
)
