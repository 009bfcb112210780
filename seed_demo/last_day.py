"""The last day of the story, a shooting day in progress: at 16:20 every status is to be seen.

The times are fixed, so that at that minute one card is being copied, one waits for its check,
and so on. The data manager is alone: no clearing after 14:30, no check after 15:20.
"""

from __future__ import annotations

from functools import partial

from seed_demo import cart
from seed_demo.camera import Turn, bring, load, pull, shoot
from seed_demo.cast import (
    GB,
    NEW_RENTAL,
    SHOOTING_DAYS,
    SOUND,
    VISITORS,
    A,
    B,
    C,
    late_comer,
    moment,
)
from seed_demo.days import begin, format_ahead
from seed_demo.happenings import visit
from seed_demo.world import Shelf, World

DAY = SHOOTING_DAYS
TURNS = (
    (A, "07:26", "10:04", 27),
    (A, "10:09", "12:38", 30),
    (A, "13:33", "15:15", 26),
    (A, "15:19", "16:12", 22),
    (A, "16:16", "18:10", 25),
    (B, "07:31", "11:02", 29),
    (B, "11:07", "14:20", 24),
    (B, "14:24", "15:52", 36),
    (B, "15:57", "18:12", 25),
    (C, "08:11", "10:18", 26),
    (C, "11:46", "13:24", 31),
    (C, "13:58", "16:50", 28),
    (SOUND, "07:20", "18:15", 170),
)
"""Camera, in, out, minutes of footage."""
SLOWLY = 280
"""Megabytes a second; the last reading must not be over before the story stops."""


def last_day(world: World) -> None:
    """Put the last shooting day on the agenda."""
    world.at(moment(DAY, "05:00"), partial(begin, world, DAY))
    world.last_clearing = moment(DAY, "14:30")
    world.last_check = moment(DAY, "15:20")
    for unit, call in (("main", "07:00"), ("second", "07:45")):
        called = partial(world.log, "called", unit=unit, day_number=str(DAY))
        world.at(moment(DAY, call), called)
    world.at(moment(DAY, "06:20"), lambda: format_ahead(world, A, 7))
    for camera, into, out, minutes in TURNS:
        turn = Turn(camera, moment(DAY, into), moment(DAY, out), 60 * minutes)
        world.at(turn.load_at, partial(timed_turn, world, turn))
    world.at(moment(DAY, "09:30"), lambda: second_visitor(world))
    world.at(moment(DAY, "10:23"), lambda: the_only_copy(world))
    world.at(moment(DAY, "12:10"), lambda: new_rental(world))


def timed_turn(world: World, turn: Turn) -> None:
    """A usual turn, brought to the cart at fixed minutes."""
    roll = load(world, turn)

    def out() -> None:
        shoot(world, turn, roll)
        pull(world, roll, figures=True)
        world.waiting += 1
        world.after(9 if turn.camera is A else 6, at_cart)

    def at_cart() -> None:
        speed = SLOWLY if turn.camera is B else None
        bring(world, roll, lambda: cart.serve(world, roll, speed=speed), said=True)

    world.at(turn.pull_at, out)


def second_visitor(world: World) -> None:
    """The drone crew is here again; their card is copied and waits to be given back."""
    roll = visit(world, VISITORS[1], "drone crew")
    cart.serve(world, roll, named=False, then=lambda: None)


def new_rental(world: World) -> None:
    """A card comes from the rental house, and nobody has had time to look at it."""
    card = late_comer(NEW_RENTAL, "2.5in SSD", 1920 * GB, owner="rental")
    world.cards[card.label] = Shelf(card)
    world.log(
        "registered",
        card=card.label,
        media=card.media,
        capacity_bytes=card.capacity,
        maker_model="Osier Pro",
        serial="R51170832",
        endurance_tb=1200,
        sustained_write_bytes_per_s=470 * 10**6,
        owner=card.owner,
        case="3",
        text="replaces the one with the bent connector",
    )


def the_only_copy(world: World) -> None:
    """The worst that can happen: a card that was never copied goes in again and is formatted."""
    turn = Turn(C, world.now, moment(DAY, "11:42"), 60 * 22)
    roll = load(world, turn)

    def out() -> None:
        shoot(world, turn, roll)
        pull(world, roll, figures=True)
        world.at(moment(DAY, "13:30"), again)

    def again() -> None:
        shelf = world.cards[roll.card]
        held = shelf.held
        second = load(world, Turn(C, world.now, world.now, 0), shelf=shelf, at_once=True)
        world.after(7, lambda: stop(second.name, held))

    def stop(opened: str, held: int) -> None:
        label = roll.card
        world.cards[label].loaded_in = None
        world.log("pulled", card=label, bytes=0, clips=0, unmounted=True)
        reason = "formatted with the only copy on it: nobody writes to it, it goes to recovery"
        world.log("set_aside", card=label, reason=reason)
        text = f"{roll.name}: {held // GB} GB, {roll.clips} clips; it stayed in the pouch at noon"
        world.after(6, lambda: world.log("noted", card=label, text=text, roll=roll.name))
        world.after(12, lambda: world.log("declared_empty", card=label, roll=opened))

    world.at(turn.pull_at, out)
