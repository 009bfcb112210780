"""The usual shooting day: calls, turns of cards in cameras, wraps, and the drive to the office."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from functools import partial

from seed_demo import cart, nights
from seed_demo.camera import Turn, bring, format_here, load, pull, shoot
from seed_demo.cast import CAMERAS, A, Camera, moment
from seed_demo.world import World

Play = Callable[[World, Turn], None]
Plays = Mapping[tuple[int, str, int], Play]
"""What happens instead of the usual: by shooting day, camera and turn of that day, from 1."""

CALLS = {"main": "07:00", "second": "08:00"}
WRAPS = {"main": "18:20", "second": "17:00"}
TURNS = {"A": (3, 3), "B": (2, 3), "C": (2, 2), "SN": (1, 1)}
"""Cards a day, least and most."""
FOOTAGE = {"A": (19, 33), "B": (17, 31), "C": (20, 38), "SN": (130, 190)}
"""Minutes of footage on a card, least and most."""


def usual_day(world: World, day: int, plays: Plays) -> None:
    """Put a shooting day on the agenda."""
    world.at(moment(day, "05:00"), partial(begin, world, day))
    hours = {unit: _hours(world, day, unit) for unit in CALLS}
    for unit, (call, wrap) in hours.items():
        world.at(call, partial(world.log, "called", unit=unit, day_number=str(day)))
        world.at(wrap, partial(world.log, "wrapped", unit=unit, day_number=str(day)))
    for camera in CAMERAS:
        call, wrap = hours[camera.unit]
        for number, turn in enumerate(turns(world, camera, call, wrap), start=1):
            play = plays.get((day, camera.letters, number), usual_turn)
            world.at(turn.load_at, partial(play, world, turn))
    if day % 5 == 1:
        world.at(moment(day, "06:30"), lambda: format_ahead(world, A, 4))
    world.at(moment(day, "19:00"), lambda: nights.leave(world, day))


def begin(world: World, day: int) -> None:
    """A new shooting day: the shuttle that is on set is another one."""
    world.day = day


def _hours(world: World, day: int, unit: str) -> tuple[datetime, datetime]:
    call = moment(day, CALLS[unit])
    wrap = moment(day, WRAPS[unit]) + world.minutes(-20, 15)
    return call, wrap


def turns(world: World, camera: Camera, call: datetime, wrap: datetime) -> list[Turn]:
    """The turns of one camera on a day: swaps between call and wrap, a few minutes each."""
    count = world.rng.randint(*TURNS[camera.letters])
    begin = call + world.minutes(20, 40)
    end = wrap - world.minutes(2, 9)
    planned = []
    for number in range(1, count + 1):
        pull_at = end if number == count else begin + (end - begin) / (count - number + 1)
        pull_at = pull_at.replace(second=0, microsecond=0)
        if number < count:
            pull_at += world.minutes(-18, 18)
        seconds = 60 * world.rng.randint(*FOOTAGE[camera.letters]) + world.rng.randrange(60)
        planned.append(Turn(camera, begin, pull_at, seconds))
        begin = pull_at + world.minutes(3, 7)
    return planned


def usual_turn(world: World, turn: Turn) -> None:
    """Load, format, shoot; pulled when it is full enough, brought to the cart, served."""
    roll = load(world, turn)

    def out() -> None:
        shoot(world, turn, roll)
        pull(world, roll)
        world.waiting += 1
        world.after(world.rng.randint(6, 22), at_cart)

    def at_cart() -> None:
        bring(world, roll, lambda: cart.serve(world, roll))

    world.at(turn.pull_at, out)


def format_ahead(world: World, camera: Camera, count: int) -> None:
    """The loader formats cards for the day in the camera, one after the other."""
    for number, shelf in enumerate(world.free(camera.takes)[:count]):
        shelf.free_since = None

        def ahead(label: str = shelf.card.label) -> None:
            format_here(world, label, camera)
            world.cards[label].formatted_by = camera.letters
            world.cards[label].held = 0
            world.cards[label].free_since = world.now

        world.at(world.now + timedelta(minutes=2 * number), ahead)
