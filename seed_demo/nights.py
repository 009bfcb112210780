"""After wrap: the shuttle goes to the office, its rolls go to the vault; and the weekends."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial

from seed_demo import cart
from seed_demo.cast import DRIVER, GB, MB, RAID, TAPE, TB, VAULTS, WORN, moment
from seed_demo.world import Roll, Shelf, World

LOST_IN_THE_VAN = 12
"""The shooting day whose shuttle is not in the van when it arrives."""
VAULT_SPEED = (190, 235)
TAPE_SPEED = (120, 240)
"""Megabytes a second, least and most; common practice, no source."""


def vault_of(day: int) -> str:
    """The vault that the rolls of a shooting day go to; they change from week to week."""
    return VAULTS[((day - 1) // 5) % 2]


def leave(world: World, day: int) -> None:
    """When nothing waits at the cart any more, the shuttle leaves for the office."""
    if world.waiting:
        world.after(10, lambda: leave(world, day))
        return
    shuttle = cart.shuttle_of(day)
    world.log("drive_moved", drive=shuttle, place="in transit", holder=f"driver {DRIVER}")
    world.after(world.rng.randint(35, 60), lambda: arrive(world, day, shuttle))


def arrive(world: World, day: int, shuttle: str) -> None:
    """The shuttle is at the office, and its rolls go to the vault; once it was not in the van."""
    if day != LOST_IN_THE_VAN:
        world.log("drive_moved", drive=shuttle, place="near set", holder="office")
        to_vault(world, day, shuttle)
        return
    world.log("drive_lost", drive=shuttle, text="not in the box when the van arrived")
    world.after(130, partial(_found, world, day, shuttle))


def _found(world: World, day: int, shuttle: str) -> None:
    text = "had slid under the rear seat; case unmarked, all rolls readable"
    world.log("drive_found", drive=shuttle, text=text)
    world.log("drive_moved", drive=shuttle, place="near set", holder="office")
    to_vault(world, day, shuttle)


def to_vault(world: World, day: int, shuttle: str) -> None:
    """Copy the day's rolls from the shuttle to the vault, one after the other."""
    vault = vault_of(day)
    rolls, world.leaving[shuttle] = world.leaving[shuttle], []
    begin = world.now + world.minutes(5, 15)
    for roll in rolls:
        rate = world.rng.randint(*VAULT_SPEED)
        begin = copy_from(world, roll, (shuttle, vault), begin, rate=rate, level="reread")
    world.at(begin, lambda: empty_later(world, day, shuttle))


def copy_from(
    world: World, roll: Roll, route: tuple[str, str], begin: datetime, *, rate: int, level: str
) -> datetime:
    """Copy a roll from drive to drive; gives back when it will have been checked.

    route: from which drive to which. rate: megabytes a second; `reread` takes it twice, since
    the copy is read back.
    """
    source, target = route
    lasts = timedelta(seconds=roll.size // (rate * MB) + 2)
    done = begin + lasts
    checked = done + (lasts if level == "reread" else timedelta(minutes=2))
    log = partial(world.log, card=roll.card, drive=target)

    def finished() -> None:
        world.put_on(target, roll.size)
        roll.drives.append(target)
        log(
            "copy_finished",
            roll=roll.name,
            from_=source,
            bytes=roll.size,
            clips=roll.clips,
            seconds=int(lasts.total_seconds()),
            measured=True,
        )

    def check() -> None:
        log("copy_checked", roll=roll.name, level=level, proof=cart.proof(roll, target))

    world.at(begin, lambda: log("copy_started", roll=roll.name, from_=source))
    world.at(done, finished)
    world.at(checked, check)
    return checked


def empty_later(world: World, day: int, shuttle: str) -> None:
    """The morning before it is needed again, the shuttle is emptied and comes back to set."""
    back = moment(day + 2, "05:50") if day + 2 <= 30 else None
    if back is None:
        return
    text = f"all of day {day} is on {vault_of(day)}, reread"

    def emptied() -> None:
        world.log("drive_emptied", drive=shuttle, text=text)
        world.used[shuttle] = 0

    world.at(back, emptied)
    world.at(back + timedelta(minutes=5), partial(_return, world, shuttle))


def _return(world: World, shuttle: str) -> None:
    world.log("drive_moved", drive=shuttle, place="in transit", holder=f"driver {DRIVER}")
    world.after(40, partial(world.log, "drive_moved", drive=shuttle, place="on set"))


def weekend(world: World, last: int) -> None:
    """Put the weekend after a shooting day on the agenda."""
    friday = moment(last, "12:00")
    saturday, monday = friday + timedelta(days=1), friday + timedelta(days=3)
    world.at(saturday - timedelta(hours=2), lambda: sound_to_tape(world, last))
    world.at(saturday, lambda: read_health(world))
    this, following = vault_of(last), vault_of(last + 1)
    move(world, this, saturday + timedelta(hours=1), "off site", "store keeper")
    move(world, following, monday - timedelta(hours=3), "near set", "office")


def move(world: World, drive: str, when: datetime, place: str, holder: str) -> None:
    """A vault goes by van; it is in transit until it has arrived."""
    seal = f"{world.rng.randrange(10_000):04d}"
    log = partial(world.log, "drive_moved", drive=drive, seal=seal)
    world.at(when, lambda: log(place="in transit", holder=f"driver {DRIVER}"))
    world.at(when + world.minutes(40, 75), lambda: log(place=place, holder=holder))


def sound_to_tape(world: World, last: int) -> None:
    """The sound rolls of the week go to tape as well."""
    week = [roll for roll in world.rolls if roll.camera == "SN" and RAID in roll.drives][-5:]
    begin = world.now
    for roll in week:
        rate = world.rng.randint(*TAPE_SPEED)
        begin = copy_from(world, roll, (RAID, TAPE), begin, rate=rate, level="checksummed")


def read_health(world: World) -> None:
    """Some of the drives that can say how they are do so, a few minutes each."""
    able = [shelf for shelf in world.free("2.5in SSD") if shelf.card.label != WORN]
    for number, shelf in enumerate(world.rng.sample(able, 6)):
        world.after(3 * number, partial(health, world, shelf))


def health(world: World, shelf: Shelf, *, verdict: str = "good", media_errors: int = 0) -> str:
    """One reading of one card. Hours are those of 20 GB written an hour (no source)."""
    wear = 100 * shelf.written / (shelf.card.endurance_tb * TB)
    return world.log(
        "health_read",
        card=shelf.card.label,
        tool="bench reader",
        verdict=verdict,
        host_bytes_written=shelf.written,
        wear_percent=round(wear, 1),
        power_on_hours=shelf.written // (20 * GB),
        temperature_c=world.rng.randrange(27, 39),
        media_errors=media_errors,
        interface_errors=1 if world.rng.random() < 0.05 else 0,
    )
