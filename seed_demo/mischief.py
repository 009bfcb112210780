"""Turns of a card that did not go as usual. Each happens once or twice in six weeks.

Each function takes the place of `days.usual_turn` for one turn of one camera.
"""

from __future__ import annotations

from datetime import timedelta
from functools import partial

from seed_demo import cart
from seed_demo import copies_gone_wrong as wrong
from seed_demo.camera import Turn, bring, load, loader_of, pull, shoot
from seed_demo.cast import DATA_MANAGER, PRODUCTION_MANAGER, RAID
from seed_demo.days import Plays, usual_turn
from seed_demo.nights import copy_from
from seed_demo.world import Roll, World


def out(world: World, turn: Turn, roll: Roll, *, figures: bool | None = None) -> None:
    """What a turn usually ends with: shot, pulled, and from now on waiting for the cart."""
    shoot(world, turn, roll)
    pull(world, roll, figures=figures)
    world.waiting += 1


def typed_late(world: World, turn: Turn) -> None:
    """The pull is typed hours later, with the time at which it happened."""
    roll = load(world, turn)

    def card_out() -> None:
        shoot(world, turn, roll)
        world.waiting += 1
        late = partial(pull, world, roll, occurred_at=world.now, figures=True)
        world.after(8, lambda: bring(world, roll, lambda: cart.serve(world, roll), said=True))
        world.after(255, late)

    world.at(turn.pull_at, card_out)


def pull_unlogged(world: World, turn: Turn, *, settle: bool) -> None:
    """Nobody logs the pull; the card is simply handed over."""
    roll = load(world, turn)

    def card_out() -> None:
        shoot(world, turn, roll)
        world.cards[roll.card].loaded_in = None
        world.waiting += 1
        world.after(2, hand_over)

    def hand_over() -> None:
        card = roll.card
        handed = world.log("handed_over", card=card, to=DATA_MANAGER, place="cart")
        cart.serve(world, roll)
        if settle:
            reason = "loader's sheet has the pull, the counts agree with the copies"
            settled = partial(world.log, "settled", card=card, target=handed, reason=reason)
            world.after(300, lambda: settled(mishap="pull_missing", roll=roll.name))

    world.at(turn.pull_at, card_out)


def lunch_copy(world: World, turn: Turn) -> None:
    """The half-full card is copied over lunch, goes back in as the same roll, and is copied anew.

    The morning's copies stop counting when the roll is resumed.
    """
    roll = load(world, turn)
    half = turn.seconds // 2
    lunch = turn.load_at + (turn.pull_at - turn.load_at) / 3

    def to_lunch() -> None:
        shoot(world, turn, roll, half)
        pull(world, roll, figures=True)
        reading = cart.read(world, roll)
        checked = [cart.copy(world, roll, drive, reading) for drive in _both(world)]
        world.at(max(checked) + timedelta(minutes=6), resume)

    def resume() -> None:
        world.log("noted", card=roll.card, text="copied over lunch, back in", roll=roll.name)
        world.log("loaded", card=roll.card, camera=roll.camera, roll=roll.name)
        world.cards[roll.card].loaded_in = roll.camera
        world.at(turn.pull_at, finish)

    def finish() -> None:
        shoot(world, turn, roll, half)
        pull(world, roll, figures=True)
        world.waiting += 1
        world.after(9, lambda: bring(world, roll, lambda: cart.serve(world, roll)))

    world.at(lunch, to_lunch)


def _both(world: World) -> tuple[str, str]:
    return (RAID, cart.shuttle_of(world.day))


def misnamed(world: World, turn: Turn) -> None:
    """The roll was typed with the wrong number; the clips on the card have the right one."""
    right = world.next_roll(turn.camera)
    roll = load(world, turn, name=f"{right[0]}1{right[2:]}")

    def rename() -> None:
        world.log("roll_renamed", card=roll.card, roll=roll.name, new_name=right)
        roll.name = right
        cart.serve(world, roll)

    def card_out() -> None:
        out(world, turn, roll)
        world.after(12, lambda: bring(world, roll, rename))

    world.at(turn.pull_at, card_out)


def typed_zero(world: World, turn: Turn) -> None:
    """The scene was dropped. A typed zero is not trusted until a data manager has looked."""
    roll = load(world, turn)
    shelf = world.cards[roll.card]

    def card_out() -> None:
        world.log("pulled", card=roll.card, bytes=0, clips=0)
        shelf.loaded_in = None
        world.after(24, declare)

    def declare() -> None:
        world.log("declared_empty", card=roll.card, roll=roll.name)
        shelf.free_since = world.now
        shelf.formatted_by = roll.camera

    world.at(turn.pull_at, card_out)


def wrong_card(world: World, turn: Turn) -> None:
    """Another card was tapped; the load is voided and logged for the card that went in."""
    tapped = world.free(turn.camera.takes)[4]
    tapped_at = world.now
    name = world.next_roll(turn.camera)
    mistake = world.log(
        "loaded", card=tapped.card.label, camera=turn.camera.letters, roll=name, formatted=True
    )

    def mend() -> None:
        reason = "wrong card tapped, it never left the case"
        world.log("voided", card=tapped.card.label, target=mistake, reason=reason)
        roll = load(world, turn, name=name, occurred_at=tapped_at)
        world.at(turn.pull_at, lambda: card_out(roll))

    def card_out(roll: Roll) -> None:
        out(world, turn, roll)
        world.after(11, lambda: bring(world, roll, lambda: cart.serve(world, roll)))

    world.after(4, mend)


def short_of_footage(world: World, turn: Turn) -> None:
    """A turn with little footage, whose card is remembered for later in the day."""
    usual_turn(world, Turn(turn.camera, turn.load_at, turn.pull_at, 14 * 60))
    world.remembered["loaded again"] = world.rolls[-1]


def loaded_again(world: World, turn: Turn) -> None:
    """The morning's card is loaded again without a format, and holds two rolls."""
    first = world.remembered["loaded again"]
    shelf = world.cards[first.card]
    if shelf.free_since is None:
        raise RuntimeError(f"{first.card} is not back yet")
    roll = load(world, turn, shelf=shelf, formats=False)

    def card_out() -> None:
        out(world, turn, roll, figures=True)
        world.after(10, lambda: bring(world, roll, lambda: cart.serve(world, roll)))

    world.at(turn.pull_at, card_out)


def mirrored(world: World, turn: Turn) -> None:
    """Nobody can do the stunt twice: the second slot writes the same pictures to another card."""
    roll = load(world, turn, slot=1)
    mirror = load(world, turn, name=roll.name, as_="mirror", slot=2)

    def card_out() -> None:
        out(world, turn, roll, figures=True)
        mirror.size, mirror.clips, mirror.seconds = roll.size, roll.clips, roll.seconds
        shelf = world.cards[mirror.card]
        shelf.held += roll.size
        shelf.written += roll.size
        pull(world, mirror, figures=True)
        world.after(7, at_cart)

    def at_cart() -> None:
        world.log("handed_over", card=mirror.card, to=loader_of("C"), place="camera crew")
        cart.serve(world, roll, then=clear_both)

    def clear_both() -> None:
        cart.clear(world, roll)
        cart.clear(world, mirror)

    world.at(turn.pull_at, card_out)


def first_copy_only(world: World, turn: Turn) -> None:
    """The shuttle is not there yet: one copy, and a clearing by override with a promise."""
    roll = load(world, turn)
    world.remembered["override"] = roll

    def at_cart() -> None:
        reading = cart.read(world, roll)
        checked = cart.copy(world, roll, RAID, reading)
        world.at(checked + timedelta(minutes=8), override)

    def override() -> None:
        world.ids["override"] = world.log(
            "cleared",
            card=roll.card,
            override_reason="the shuttle is held up, every other card is out with the van",
            authorised_by=PRODUCTION_MANAGER,
            promise="second copy from the RAID before the shuttle leaves",
            promise_by=DATA_MANAGER,
            promise_until=(world.now + timedelta(hours=9)).isoformat(),
        )
        world.cards[roll.card].free_since = world.now

    def card_out() -> None:
        out(world, turn, roll, figures=True)
        world.after(9, lambda: bring(world, roll, at_cart))

    world.at(turn.pull_at, card_out)


def promise_kept(world: World, turn: Turn) -> None:
    """The card cleared by override is used; the second copy is made in the evening."""
    first = world.remembered["override"]
    roll = load(world, turn, shelf=world.cards[first.card], at_once=True)
    settle = {
        world.ids["override"]: ("cleared_by_override",),
        roll.loaded_id: ("loaded_uncovered", "formatted_uncovered"),
    }

    def second_copy() -> None:
        shuttle = cart.shuttle_of(world.day)
        begin = world.now + timedelta(minutes=2)
        checked = copy_from(world, first, (RAID, shuttle), begin, rate=340, level="checksummed")
        world.leaving[shuttle].append(first)
        world.at(checked, lambda: cart.served(world))
        world.at(checked + timedelta(minutes=5), settled)

    def settled() -> None:
        reason = "promise kept: second copy checked the same evening"
        settle_one = partial(world.log, "settled", card=first.card, reason=reason)
        for target, mishaps in settle.items():
            for mishap in mishaps:
                settle_one(target=target, mishap=mishap)

    def card_out() -> None:
        out(world, turn, roll)
        world.after(9, lambda: bring(world, roll, lambda: cart.serve(world, roll)))
        world.after(20, second_copy)

    world.at(turn.pull_at, card_out)


def plays() -> Plays:
    """Which turns go otherwise: by shooting day, camera and turn of the day."""
    return {
        (2, "A", 2): typed_late,
        (3, "B", 1): wrong.interrupted,
        (4, "B", 1): partial(pull_unlogged, settle=True),
        (5, "A", 2): lunch_copy,
        (6, "A", 2): misnamed,
        (7, "A", 1): short_of_footage,
        (7, "A", 3): loaded_again,
        (8, "B", 2): typed_zero,
        (9, "A", 1): wrong.differs,
        (10, "A", 1): wrong_card,
        (11, "B", 1): wrong.short,
        (14, "C", 2): mirrored,
        (17, "A", 1): first_copy_only,
        (17, "A", 3): promise_kept,
        (22, "C", 1): mirrored,
        (29, "B", 1): partial(pull_unlogged, settle=False),
    }
