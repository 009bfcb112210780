"""Copies that did not go as usual: interrupted, different, short of a clip."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from functools import partial

from seed_demo import cart
from seed_demo.camera import Turn, bring, load, pull, shoot
from seed_demo.cast import RAID
from seed_demo.world import Roll, World

Trouble = Callable[[World, Roll, str, cart.Reading], None]
"""What happens on the shuttle; it ends with `again`."""


def _turn(world: World, turn: Turn, trouble: Trouble, *, clips: int | None = None) -> None:
    """A turn whose copy to the RAID goes well, and whose copy to the shuttle does not."""
    roll = load(world, turn)

    def card_out() -> None:
        shoot(world, turn, roll)
        roll.clips = clips or roll.clips
        pull(world, roll, figures=True)
        world.waiting += 1
        world.after(10, lambda: bring(world, roll, at_cart))

    def at_cart() -> None:
        reading = cart.read(world, roll)
        cart.copy(world, roll, RAID, reading)
        trouble(world, roll, cart.shuttle_of(world.day), reading)

    world.at(turn.pull_at, card_out)


def again(world: World, roll: Roll, drive: str, settle: Callable[[], None] | None = None) -> None:
    """Copy the whole roll to the drive once more, then clear the card."""
    checked = cart.copy(world, roll, drive, cart.read(world, roll))
    world.at(checked, lambda: cart.served(world))
    if settle:
        world.at(checked + timedelta(minutes=3), settle)
    world.at(checked + timedelta(minutes=9), lambda: cart.clear(world, roll))


def interrupted(world: World, turn: Turn) -> None:
    """Somebody's foot found the cable."""

    def trouble(world: World, roll: Roll, drive: str, reading: cart.Reading) -> None:
        def fail() -> None:
            text = "cable came out of the shuttle"
            log = partial(world.log, "copy_failed", card=roll.card, drive=drive, text=text)
            log(roll=roll.name, reason="interrupted")

        world.at(reading.start, lambda: begin(world, roll, drive, reading))
        world.at(reading.start + reading.lasts * 0.4, fail)
        world.at(reading.end + timedelta(minutes=4), lambda: again(world, roll, drive))

    _turn(world, turn, trouble)


def differs(world: World, turn: Turn) -> None:
    """The checksums disagree; another cable, and they agree."""

    def trouble(world: World, roll: Roll, drive: str, reading: cart.Reading) -> None:
        failed: list[str] = []

        def fail() -> None:
            text = "one clip of the copy has another checksum than the card"
            log = partial(world.log, "copy_failed", card=roll.card, drive=drive, text=text)
            failed.append(log(roll=roll.name, reason="differs"))

        def settle() -> None:
            reason = "copied again over another cable; card and copy agree"
            settled = partial(world.log, "settled", card=roll.card, drive=drive, reason=reason)
            settled(target=failed[0], mishap="copy_differs", roll=roll.name)

        world.at(reading.start, lambda: begin(world, roll, drive, reading))
        world.at(reading.end + timedelta(minutes=2), fail)
        world.at(reading.end + timedelta(minutes=6), lambda: again(world, roll, drive, settle))

    _turn(world, turn, trouble)


def short(world: World, turn: Turn) -> None:
    """17 of 18 clips arrive; the second try brings all, and the data manager says why."""

    def trouble(world: World, roll: Roll, drive: str, reading: cart.Reading) -> None:
        finished: list[str] = []

        def finish() -> None:
            finished.append(cart.finish(world, roll, drive, reading.lasts, lacking=1))

        def settle() -> None:
            reason = "the last clip was left out by hand; the second copy has all 18"
            settled = partial(world.log, "settled", card=roll.card, drive=drive, reason=reason)
            settled(target=finished[0], mishap="copy_short", roll=roll.name)

        world.at(reading.start, lambda: begin(world, roll, drive, reading))
        world.at(reading.end, finish)
        world.at(reading.end + timedelta(minutes=12), lambda: again(world, roll, drive, settle))

    _turn(world, turn, trouble, clips=18)


def begin(world: World, roll: Roll, drive: str, reading: cart.Reading) -> None:
    """The copy that will go wrong begins like any other."""
    cart.start(world, roll, drive, reading.reader)
