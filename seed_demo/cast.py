"""The inventory of the invented production: its people, crew units, cameras, cards and drives.

Everything here is made up. Recording rates are computed from the frame where the format is
uncompressed; the mezzanine rate is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone
from random import Random
from typing import Any

GB = 10**9
TB = 10**12
MB = 10**6

DATA_MANAGER = "Noor"
LOADER = "Timo"
SECOND_LOADER = "Brisa"
DRIVER = "Wes"
PRODUCTION_MANAGER = "Odile"
PHOTOGRAPHY = "Ana, director of photography"

PEOPLE: Mapping[str, str] = {
    "data manager": DATA_MANAGER,
    "loader": LOADER,
    "production office": PRODUCTION_MANAGER,
    "administrator": "Ilda",
}
"""Who comes in as what, where the demo is served."""

SUMMER_TIME = timezone(timedelta(hours=1))
"""Europe/Lisbon is at +01:00 during the whole of the shoot."""
FIRST_DAY = date(2026, 4, 13)
SHOOTING_DAYS = 30
NOW = datetime(2026, 5, 22, 16, 20, tzinfo=SUMMER_TIME)

RULE: Mapping[str, Any] = {"copies": 2, "level": "checksummed", "kinds": 1, "off_site": 0}
"""Two copies on two drives, each checked against checksums read from the card."""

ABOUT: Mapping[str, Any] = {
    "name": "The Heron Causeway",
    "code": "HCW",
    "time_zone": "Europe/Lisbon",
    "day_starts": "05:00",
    "now": NOW.isoformat(),
    "rule": RULE,
}
"""What the caller has to know of the production; `now` is the moment at which the story stops."""


def day_of(number: int) -> date:
    """The date of a shooting day, counted from 1; five days a week, Monday to Friday."""
    weeks, days = divmod(number - 1, 5)
    return FIRST_DAY + timedelta(weeks=weeks, days=days)


def moment(number: int, clock: str) -> datetime:
    """A wall-clock time, such as "07:05", on a shooting day."""
    return datetime.combine(day_of(number), time.fromisoformat(clock), SUMMER_TIME)


@dataclass(frozen=True)
class Camera:
    """A camera, or the sound recorder. bytes_per_s: what it writes while it records."""

    letters: str
    unit: str
    slots: int
    takes: str
    needs_write_mb: int
    formats_to: str
    file_system: str
    records: str
    bytes_per_s: int


RAW = "packed raw 12 bit 3072x1620, 25 fps"
RAW_RATE = 3072 * 1620 * 12 // 8 * 25
A = Camera("A", "main", 1, "2.5in SSD", 200, "exFAT", "exfat", RAW, RAW_RATE)
B = Camera("B", "main", 1, "2.5in SSD", 200, "exFAT", "exfat", RAW, RAW_RATE)
C = Camera(
    "C",
    "second",
    2,
    "compact card",
    80,
    "exFAT",
    "exfat",
    "mezzanine 422 3840x2160, 25 fps",
    61 * MB,
)
SOUND = Camera(
    "SN", "main", 1, "small card", 5, "FAT32", "fat32", "8 channels 24 bit 48 kHz", 8 * 3 * 48_000
)
CAMERAS = (A, B, C, SOUND)


@dataclass(frozen=True)
class Card:
    """A card as it stands in the pool. written_before: bytes written to it before this shoot."""

    label: str
    media: str
    capacity: int
    model: str
    serial: str
    endurance_tb: int
    sustained_mb: int
    owner: str
    case: str
    notes: str
    written_before: int


@dataclass(frozen=True)
class Drive:
    """A drive for copies, and where it stands at the start."""

    label: str
    kind: str
    capacity_tb: int
    place: str


RAID = "HERON-RAID"
SHUTTLES = ("LEG-1", "LEG-2")
TODAYS_DRIVES = (RAID, SHUTTLES[1])
"""Where the copies of the last day go, where the demo is served."""
VAULTS = ("NEST-1", "NEST-2")
TAPE = "REEL-1"
DRIVES = (
    Drive(RAID, "raid", 96, "on set"),
    Drive("LEG-1", "ssd", 4, "on set"),
    Drive("LEG-2", "ssd", 4, "near set"),
    Drive("NEST-1", "hdd", 32, "off site"),
    Drive("NEST-2", "hdd", 32, "off site"),
    Drive(TAPE, "tape", 12, "near set"),
)

WORN = "HC03"
"""A card that comes to the shoot with most of its endurance used, and is retired during it."""
NEW_RENTAL = "HR08"
VISITORS = ("GV01", "GV02")


@dataclass(frozen=True)
class Batch:
    """Cards that were bought or rented together."""

    prefix: str
    first: int
    last: int
    media: str
    capacity: int
    model: str
    endurance_tb: int
    sustained_mb: int
    owner: str
    case: str
    notes: str = ""


BATCHES = (
    Batch("HC", 1, 8, "2.5in SSD", 480 * GB, "Marram S2", 150, 430, "production", "1"),
    Batch("HC", 9, 20, "2.5in SSD", 960 * GB, "Marram S2", 300, 440, "production", "2"),
    Batch("HR", 1, 4, "2.5in SSD", 960 * GB, "Osier Pro", 600, 470, "rental", "3"),
    Batch("HR", 5, 7, "2.5in SSD", 1920 * GB, "Osier Pro", 1200, 470, "rental", "3"),
    Batch(
        "HF", 1, 6, "compact card", 256 * GB, "Sedge C", 90, 160, "production", "4", "second unit"
    ),
    Batch("HS", 1, 4, "small card", 64 * GB, "Sedge M", 20, 60, "production", "sound bag"),
)


def pool(rng: Random) -> tuple[Card, ...]:
    """The cards on the list at the start; rentals and visitors that come later are not on it."""
    return tuple(
        _card(batch, number, rng)
        for batch in BATCHES
        for number in range(batch.first, batch.last + 1)
    )


def _card(batch: Batch, number: int, rng: Random) -> Card:
    label = f"{batch.prefix}{number:02d}"
    share = 94 if label == WORN else rng.randrange(4, 40)
    return Card(
        label=label,
        media=batch.media,
        capacity=batch.capacity,
        model=batch.model,
        serial=f"{batch.prefix[1]}{rng.randrange(10**8):08d}",
        endurance_tb=batch.endurance_tb,
        sustained_mb=batch.sustained_mb,
        owner=batch.owner,
        case=batch.case,
        notes=batch.notes,
        written_before=batch.endurance_tb * TB * share // 100,
    )


def late_comer(label: str, media: str, capacity: int, *, owner: str) -> Card:
    """A card that is registered while the shoot goes on."""
    return Card(label, media, capacity, "", "", 0, 0, owner, "", "", 0)
