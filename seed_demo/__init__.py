"""An invented production, six weeks into its shoot: the files that its crew would have kept.

`write` puts them in a folder: the pool, the cameras and the drives as tables, and one file of
facts a week. The story is played in a small world with a clock, by a fixed seed, and stops in
the middle of a shooting day.

    cast         the inventory and the people
    world        clock, agenda, where every card stands
    camera, cart, days, nights      the usual day
    mischief, copies_gone_wrong, happenings, last_day      what happened
    writing      the files
"""

from __future__ import annotations

from pathlib import Path

from seed_demo.cast import ABOUT, NOW, PEOPLE, SHOOTING_DAYS, TODAYS_DRIVES
from seed_demo.days import usual_day
from seed_demo.happenings import happen
from seed_demo.last_day import last_day
from seed_demo.mischief import plays
from seed_demo.nights import weekend
from seed_demo.world import World
from seed_demo.writing import write_journal, write_tables

__all__ = ["ABOUT", "PEOPLE", "TODAYS_DRIVES", "write"]


def write(folder: Path, *, seed: int = 20260413) -> None:
    """Write the production's files into a folder, which is made if it is not there.

    The same seed gives the same bytes.
    """
    world = World(seed)
    cards = [shelf.card for shelf in world.cards.values()]
    happen(world)
    otherwise = plays()
    for day in range(1, SHOOTING_DAYS):
        usual_day(world, day, otherwise)
        if day % 5 == 0:
            weekend(world, day)
    last_day(world)
    world.run(until=NOW)
    folder.mkdir(parents=True, exist_ok=True)
    write_tables(folder, cards)
    write_journal(folder, world.lines)
