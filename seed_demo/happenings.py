"""What happens to cards beside the camera: damage, loss, visitors, health, counts, post.

`happen` puts all of it on the agenda; each function below is one small story.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from functools import partial

from seed_demo import cart
from seed_demo.camera import Turn, load, pull, shoot
from seed_demo.cast import (
    DRIVER,
    GB,
    PHOTOGRAPHY,
    PRODUCTION_MANAGER,
    RULE,
    VAULTS,
    VISITORS,
    WORN,
    A,
    late_comer,
    moment,
)
from seed_demo.nights import health, move
from seed_demo.world import Roll, Shelf, World

SSD = "2.5in SSD"
COMPACT = "compact card"


def happen(world: World) -> None:
    """Put everything that happens beside the cameras on the agenda."""
    prepare(world)
    story = partial(_story, world)
    story(1, "06:05", camera_test)
    story(10, "12:40", scratched)
    story(13, "19:40", goes_missing)
    story(16, "06:05", camera_test)
    story(18, "10:12", visitor)
    story(19, "10:35", formatted_on_laptop)
    story(20, "12:20", doubted)
    story(21, "13:05", bent)
    story(24, "19:10", worn_out)
    story(26, "19:30", gone_for_good)
    for day in range(5, 30, 5):
        story(day, "19:35", count)
    for day in range(7, 30, 5):
        story(day, "11:20", received)


def _story(world: World, day: int, clock: str, tell: Callable[[World], None]) -> None:
    world.at(moment(day, clock), lambda: tell(world))


def prepare(world: World) -> None:
    """The Saturday before: the rule, every card looked at and tried."""
    day = moment(1, "10:00") - timedelta(days=2)
    world.at(day, lambda: world.log("rule_set", **RULE))
    for number, label in enumerate(world.cards, start=1):
        world.at(day + timedelta(minutes=number), partial(look, world, label))
    for number, label in enumerate(("HC01", "HC09", "HR01", "HR05", WORN)):
        world.at(day + timedelta(minutes=90 + 6 * number), partial(measure, world, label))
    move(world, VAULTS[0], moment(1, "09:00"), "near set", "office")
    shuttle = partial(world.log, "drive_moved", drive="LEG-2")
    world.at(moment(2, "06:00"), lambda: shuttle(place="in transit", holder=f"driver {DRIVER}"))
    world.at(moment(2, "06:40"), lambda: shuttle(place="on set"))


def look(world: World, label: str) -> None:
    """The data manager looks at what is on a card."""
    world.log("checked_in", card=label, found="empty")
    world.cards[label].free_since = world.now


def measure(world: World, label: str) -> str:
    """A timed write and read of a large file."""
    sustained = world.cards[label].card.sustained_mb
    return world.log(
        "speed_measured",
        card=label,
        write_bytes_per_s=world.rng.randrange(sustained - 25, sustained + 15) * 10**6,
        read_bytes_per_s=world.rng.randrange(sustained + 20, sustained + 70) * 10**6,
        method="timed write and read of 20 GB",
    )


def take(world: World, media: str, place: int) -> Shelf:
    """A card that is free, out of use from now on. place: how many have rested longer."""
    able = [s for s in world.free(media) if s.card.label != WORN and s.formatted_by is None]
    able[place].free_since = None
    return able[place]


def put_back(world: World, shelf: Shelf) -> None:
    """The card may be used again."""
    shelf.free_since = world.now


def camera_test(world: World) -> None:
    """Lenses are tried before the call; what was shot need not be kept."""
    name = f"A-TEST-{world.day}"
    turn = Turn(A, world.now, world.now + timedelta(minutes=14), 70)
    roll = load(world, turn, name=name)

    def out() -> None:
        shoot(world, turn, roll)
        pull(world, roll, figures=True)
        world.after(6, write_off)

    def write_off() -> None:
        reason = "camera test, looked at on the monitor"
        off = partial(world.log, "written_off", card=roll.card, roll=name)
        off(authorised_by=PHOTOGRAPHY, reason=reason)
        put_back(world, world.cards[roll.card])

    world.at(turn.pull_at, out)


def scratched(world: World) -> None:
    """Cosmetic damage; the card stays in use."""
    label = world.free(SSD)[6].card.label
    text = "scratch across the lid, label still reads"
    world.log("damage_noted", card=label, part="casing", severity=1, text=text)


def bent(world: World) -> None:
    """Damage that sets the card aside at once, for the rest of the shoot."""
    label = take(world, SSD, 5).card.label
    text = "contact tongue bent, does not sit straight in the reader"
    world.log("damage_noted", card=label, part="connector", severity=3, text=text)


def goes_missing(world: World) -> None:
    """The evening count comes up one short; it turns up two days later."""
    shelf = take(world, SSD, 8)
    label = shelf.card.label
    count(world, not_found=[label])
    world.after(4, lambda: world.log("reported_missing", card=label, place="camera van"))

    def found() -> None:
        text = "in the lens case of the jib"
        world.log("found", card=label, place="camera van", text=text)
        put_back(world, shelf)

    world.at(moment(15, "08:50"), found)


def gone_for_good(world: World) -> None:
    """A small card is missing and stays so; everything that was on it has its copies."""
    shelf = take(world, COMPACT, 0)
    shelf.gone = True
    label = shelf.card.label
    count(world, not_found=[label])
    text = "last seen on the slope above the weir"
    missing = partial(world.log, "reported_missing", card=label)
    world.after(5, lambda: missing(place="second unit", text=text))


def count(world: World, not_found: list[str] | None = None) -> None:
    """The data manager counts what is out of the cameras and not known to be gone."""
    absent = set(not_found or ())
    there = [
        label
        for label, shelf in world.cards.items()
        if shelf.loaded_in is None and not shelf.gone and label not in absent
    ]
    world.log("counted", unit="main", place="cart", cards=there, not_found=not_found)


def visitor(world: World) -> None:
    """A drone crew comes by for a day: their card is copied and given back."""
    roll = visit(world, VISITORS[0], "drone crew")

    def give_back() -> None:
        world.log("handed_over", card=roll.card, to="drone crew", place="other", outside=True)
        world.cards[roll.card].gone = True

    cart.serve(world, roll, named=False, then=lambda: world.after(35, give_back))


def visit(world: World, label: str, owner: str) -> Roll:
    """A visiting card comes in with footage on it; its roll is called by card, date and time."""
    size = world.rng.randrange(44 * GB, 78 * GB)
    card = late_comer(label, COMPACT, 128 * GB, owner=owner)
    world.cards[label] = Shelf(card, held=size)
    registered = partial(world.log, "registered", card=label, media=COMPACT)
    registered(capacity_bytes=card.capacity, owner=owner, visiting=True)
    world.log("checked_in", card=label, found="footage", text="drone flights, not ours to format")
    roll = Roll(f"{label}/{world.now:%Y-%m-%d/%H:%M}", label, "")
    roll.size, roll.clips = size, size // (3 * GB)
    world.rolls.append(roll)
    world.waiting += 1
    return roll


def formatted_on_laptop(world: World) -> None:
    """A trainee wipes a cleared card on a computer; it must be formatted in a camera."""
    shelf = take(world, SSD, 4)
    label = shelf.card.label
    target = world.log("formatted", card=label, where="computer", file_system="exfat")
    shelf.held = 0
    reason = "told everyone again; it goes into a camera before it is used"
    settled = partial(world.log, "settled", card=label, target=target, reason=reason)
    world.after(45, lambda: settled(mishap="formatted_on_computer"))
    world.after(50, lambda: put_back(world, shelf))


def doubted(world: World) -> None:
    """A card that drops out of one reader is held back, tried, and returned two days later."""
    shelf = take(world, SSD, 7)
    label = shelf.card.label
    world.log("set_aside", card=label, reason="dropped out of reader 1 twice")
    tried = moment(22, "12:10")
    world.at(tried, lambda: measure(world, label))
    world.at(tried + timedelta(minutes=4), lambda: health(world, shelf))
    reason = "it was the cable of reader 1; full speed on three others"
    back = partial(world.log, "returned_to_service", card=label, reason=reason)
    world.at(tried + timedelta(minutes=9), back)
    world.at(tried + timedelta(minutes=9), lambda: put_back(world, shelf))


def worn_out(world: World) -> None:
    """A card at the end of its endurance is read once more and retired, as soon as it is free."""
    shelf = world.cards[WORN]
    if shelf.free_since is None:
        world.after(60, lambda: worn_out(world))
        return
    shelf.free_since = None
    shelf.gone = True
    health(world, shelf, verdict="failing", media_errors=3)
    text = f"agreed with {PRODUCTION_MANAGER}"
    world.after(15, lambda: world.log("retired", card=WORN, reason="worn", text=text))


def received(world: World) -> None:
    """Post has looked at a few rolls of last week."""
    shot = [roll for roll in world.rolls if roll.camera in ("A", "B") and len(roll.drives) > 2]
    for roll in world.rng.sample(shot[-24:], 3):
        took = partial(world.log, "received", card=roll.card, roll=roll.name, verdict="good")
        took(from_="post house")
