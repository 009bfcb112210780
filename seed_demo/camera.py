"""What the camera crew does: a card goes in, pictures are shot, it comes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from seed_demo.cast import DATA_MANAGER, GB, LOADER, MB, SECOND_LOADER, Camera
from seed_demo.world import Roll, Shelf, World

FULLEST = 93
"""Per cent of its capacity to which a card is shot; common practice, no source."""


@dataclass(frozen=True)
class Turn:
    """A card's time in a camera, as planned. seconds: of footage."""

    camera: Camera
    load_at: datetime
    pull_at: datetime
    seconds: int


def loader_of(letters: str) -> str:
    """Who loads that camera."""
    return SECOND_LOADER if letters == "C" else LOADER


def load(
    world: World,
    turn: Turn,
    *,
    shelf: Shelf | None = None,
    formats: bool = True,
    at_once: bool | None = None,
    name: str | None = None,
    as_: str | None = None,
    slot: int | None = None,
    occurred_at: datetime | None = None,
) -> Roll:
    """Load a card, format it in the camera unless told not to, and start a roll.

    at_once: the load says that it was formatted; else that follows as a fact of its own a minute
    later. None leaves it to the loader's habit.
    """
    camera = turn.camera
    shelf = shelf or world.pick(camera)
    ahead = shelf.formatted_by == camera.letters
    habit = world.rng.random() < 0.85
    at_once = formats and not ahead and (habit if at_once is None else at_once)
    roll = Roll(name or world.next_roll(camera), shelf.card.label, camera.letters)
    roll.loaded_id = world.log(
        "loaded",
        card=roll.card,
        occurred_at=occurred_at,
        camera=camera.letters,
        slot=slot,
        roll=roll.name,
        as_=as_,
        formatted=True if at_once else None,
        file_system=camera.file_system if at_once else None,
    )
    if formats and not ahead and not at_once:
        world.after(1, lambda: format_here(world, roll.card, camera))
    _went_in(shelf, camera, wiped=formats)
    world.rolls.append(roll)
    return roll


def _went_in(shelf: Shelf, camera: Camera, *, wiped: bool) -> None:
    if wiped:
        shelf.held = 0
    shelf.free_since = shelf.formatted_by = None
    shelf.loaded_in = camera.letters


def format_here(world: World, label: str, camera: Camera) -> str:
    """The camera formats the card."""
    return world.log(
        "formatted",
        card=label,
        where="camera",
        camera=camera.letters,
        file_system=camera.file_system,
    )


def shoot(world: World, turn: Turn, roll: Roll, seconds: int | None = None) -> None:
    """Fill the card with footage, never beyond what fits on it."""
    shelf = world.cards[roll.card]
    room = shelf.card.capacity * FULLEST // 100 - shelf.held
    rate = turn.camera.bytes_per_s
    footage = min(turn.seconds if seconds is None else seconds, room // rate)
    size = footage * rate - world.rng.randrange(MB, 40 * MB)
    roll.size += size
    roll.seconds += footage
    roll.clips += max(1, footage // world.rng.randrange(60, 110))
    shelf.held += size
    shelf.written += size


def pull(
    world: World, roll: Roll, *, occurred_at: datetime | None = None, figures: bool | None = None
) -> str:
    """Take the card out; most loaders type what the display says, rounded."""
    world.cards[roll.card].loaded_in = None
    rounding = GB // 10 if roll.camera == "SN" else GB
    says = world.rng.random() < 0.8 if figures is None else figures
    return world.log(
        "pulled",
        card=roll.card,
        occurred_at=occurred_at,
        bytes=round(roll.size / rounding) * rounding if says else None,
        clips=roll.clips if says else None,
        seconds=roll.seconds if says and world.rng.random() < 0.3 else None,
        unmounted=True if world.rng.random() < 0.5 else None,
        scenes=_scenes(world) if says and world.rng.random() < 0.25 else None,
    )


def _scenes(world: World) -> list[str]:
    first = 3 * world.day + world.rng.randrange(3)
    return [f"{first}{letter}" for letter in "ABC"[: world.rng.randint(1, 3)]]


def bring(world: World, roll: Roll, serve: Callable[[], None], *, said: bool | None = None) -> None:
    """The loader brings the card to the cart, and mostly says so; then it is served."""
    says = world.rng.random() < 0.7 if said is None else said
    if says:
        world.log("handed_over", card=roll.card, to=DATA_MANAGER, place="cart")
    serve()
