"""What the data manager does at the cart: copy, check, clear."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from seed_demo.camera import loader_of
from seed_demo.cast import MB, RAID, SHUTTLES
from seed_demo.world import Roll, World

CART = "cart 1"
SPEEDS = {
    "2.5in SSD": (270, 390),
    "compact card": (200, 280),
    "small card": (70, 88),
}
"""Megabytes a second through a reader, least and most; common practice, no source."""
SLOWEST = 1.07
"""How much longer than the reading a copy may take; no source."""


@dataclass(frozen=True)
class Reading:
    """One reading of a card at a reader: when it begins, how long it takes."""

    start: datetime
    lasts: timedelta
    reader: str

    @property
    def end(self) -> datetime:
        """When everything has been read."""
        return self.start + self.lasts


def shuttle_of(day: int) -> str:
    """The shuttle that is on set on a shooting day; the other one is at the office."""
    return SHUTTLES[(day - 1) % 2]


def read(world: World, roll: Roll, *, speed: int | None = None) -> Reading:
    """Book the reader that is free first; the card waits its turn."""
    index = world.readers.index(min(world.readers))
    start = max(world.now + world.minutes(2, 7), world.readers[index] + timedelta(minutes=2))
    least, most = SPEEDS[world.cards[roll.card].card.media]
    rate = (speed or world.rng.randint(least, most)) * MB
    reading = Reading(start, timedelta(seconds=roll.size // rate + 5), f"reader {index + 1}")
    world.readers[index] = start + reading.lasts * SLOWEST
    return reading


def proof(roll: Roll, drive: str) -> str:
    """The SHA-256 that stands for the manifest of a copy."""
    return hashlib.sha256(f"{roll.card} {roll.name} {drive} {roll.size}".encode()).hexdigest()


def start(world: World, roll: Roll, drive: str, reader: str, *, named: bool = True) -> str:
    """A copy from the card begins."""
    return world.log(
        "copy_started",
        card=roll.card,
        drive=drive,
        roll=roll.name if named else None,
        cart=CART,
        reader=reader,
    )


def finish(
    world: World, roll: Roll, drive: str, lasts: timedelta, *, named: bool = True, lacking: int = 0
) -> str:
    """A copy from the card is finished. lacking: clips that are not in it."""
    size = roll.size * (roll.clips - lacking) // roll.clips
    world.put_on(drive, size)
    if not lacking and drive not in roll.drives:
        roll.drives.append(drive)
    if drive in SHUTTLES and not lacking and roll not in world.leaving[drive]:
        world.leaving[drive].append(roll)
    return world.log(
        "copy_finished",
        card=roll.card,
        drive=drive,
        roll=roll.name if named else None,
        bytes=size,
        clips=roll.clips - lacking,
        seconds=int(lasts.total_seconds()),
        measured=True,
    )


def check(world: World, roll: Roll, drive: str, *, named: bool = True) -> None:
    """The checksums read from the card agree with those of the copy."""
    if world.last_check is not None and world.now > world.last_check:
        return
    world.log(
        "copy_checked",
        card=roll.card,
        drive=drive,
        roll=roll.name if named else None,
        level="checksummed",
        proof=proof(roll, drive),
    )


def copy(world: World, roll: Roll, drive: str, reading: Reading, *, named: bool = True) -> datetime:
    """Put a whole copy on the agenda; gives back when it will have been checked."""
    slower = world.rng.uniform(1, SLOWEST)
    lasts = timedelta(seconds=int(reading.lasts.total_seconds() * slower))
    checked = reading.start + lasts + world.minutes(1, 5)
    world.at(reading.start, lambda: start(world, roll, drive, reading.reader, named=named))
    world.at(reading.start + lasts, lambda: finish(world, roll, drive, lasts, named=named))
    world.at(checked, lambda: check(world, roll, drive, named=named))
    return checked


def serve(
    world: World,
    roll: Roll,
    *,
    speed: int | None = None,
    named: bool = True,
    then: Callable[[], None] | None = None,
) -> None:
    """The usual service: one reading, two copies, both checked, the card cleared."""
    reading = read(world, roll, speed=speed)
    drives = (RAID, shuttle_of(world.day))
    checked = max([copy(world, roll, drive, reading, named=named) for drive in drives])
    world.at(checked, lambda: served(world))
    world.at(checked + world.minutes(4, 20), then or (lambda: clear(world, roll)))


def served(world: World) -> None:
    """One roll less that waits at the cart."""
    world.waiting -= 1


def clear(world: World, roll: Roll) -> None:
    """The data manager clears the card, and it goes back to the camera crew."""
    if world.last_clearing is not None and world.now > world.last_clearing:
        return
    world.log("cleared", card=roll.card)
    world.after(world.rng.randint(3, 15), lambda: give_back(world, roll))


def give_back(world: World, roll: Roll) -> None:
    """A cleared card waits with the camera crew to be used again."""
    if world.rng.random() < 0.5:
        to = loader_of(roll.camera)
        world.log("handed_over", card=roll.card, to=to, place="camera crew")
    world.cards[roll.card].free_since = world.now
