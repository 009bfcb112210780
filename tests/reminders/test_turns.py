"""Spells and turns: told once, on their anchors, held back and never skipped, cleared once.

The oracle of the properties steps through a morning minute by minute with its own small books. It
imports nothing of the rules: times are counted in minutes, and who was told stands in lists.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.reminders.rules import Condition
from tracker.reminders.turns import (
    Quiet,
    Snooze,
    Spell,
    SpellKey,
    Turn,
    all_clear,
    follow,
    go_out,
    held_back,
    next_turn,
)

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
KIM = ("Kim", "page")
LEE = ("Lee", "page")


def minutes(count: float) -> datetime:
    """So many minutes after nine."""
    return NINE + timedelta(minutes=count)


def exposed(due: float = 0, **fields: object) -> Condition:
    """S-014 is exposed too long: due at nine, and told of every hour."""
    condition = Condition(
        subject="S-014",
        rule="exposed too long",
        about="S-014",
        unit="main",
        since=minutes(due - 120),
        due=minutes(due),
        who=("loader",),
        person=None,
        severity="warning",
        says="S-014 was shot.",
        to_do="Bring it to the cart.",
        lines=(),
        delay=timedelta(0),
        repeat=timedelta(hours=1),
        all_clear=True,
        may_go=True,
    )
    return replace(condition, **fields)  # type: ignore[arg-type]


@dataclass
class Desk:
    """What a service would keep in its tables: spells, decisions, who was told of an end."""

    spells: list[Spell] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)
    clears: list[tuple[SpellKey, tuple[str, str]]] = field(default_factory=list)

    def tick(
        self,
        now: float,
        *conditions: Condition,
        to: tuple[tuple[str, str], ...] = (KIM,),
        snoozes: tuple[Snooze, ...] = (),
        quiet: Quiet | None = None,
    ) -> tuple[list[tuple[str, int, int]], list[str]]:
        """What goes out: (to whom, turn, how many collapsed), and who hears of an end."""
        by_key = {one.key: one for one in conditions}
        self.spells = follow(self.spells, by_key, minutes(now))
        decided: dict[tuple[SpellKey, str, str], set[int]] = {}
        for turn in self.turns:
            key = (turn.key.spell, turn.key.to, turn.key.channel)
            decided.setdefault(key, set()).update((turn.key.turn, *turn.collapsed))
        went = go_out(
            self.spells,
            by_key,
            dict.fromkeys(by_key, to),
            decided,
            minutes(now),
            snoozes=snoozes,
            quiet={} if quiet is None else {"Kim": quiet, "Lee": quiet},
        )
        self.turns += went
        heard = []
        for spell in self.spells:
            told = [(t.key.to, t.key.channel) for t in self.turns if t.key.spell == spell.key]
            before = [who for key, who in self.clears if key == spell.key]
            for who in all_clear(spell, told, before):
                self.clears.append((spell.key, who))
                heard.append(who[0])
        return [(t.key.to, t.key.turn, len(t.collapsed)) for t in went], heard


NOTHING: tuple[list[tuple[str, int, int]], list[str]] = ([], [])


def test_told_once_when_it_is_due_and_then_every_hour_from_there() -> None:
    desk, card = Desk(), exposed()
    assert desk.tick(-1, card) == NOTHING
    assert desk.tick(0, card) == ([("Kim", 0, 0)], [])
    assert desk.tick(1, card) == NOTHING
    assert desk.tick(59, card) == NOTHING
    assert desk.tick(60, card) == ([("Kim", 1, 0)], [])


def test_after_a_pause_only_the_newest_goes_and_says_how_many_it_stands_for() -> None:
    desk, card = Desk(), exposed()
    desk.tick(0, card)
    assert desk.tick(250, card) == ([("Kim", 4, 3)], [])
    assert desk.turns[-1].collapsed == range(1, 4)
    assert desk.tick(251, card) == NOTHING
    assert desk.tick(300, card) == ([("Kim", 5, 0)], [])


def test_the_anchor_is_frozen_when_the_spell_opens() -> None:
    """A late fact moves the moment from which the card counts, and settings the rhythm: not it."""
    desk = Desk()
    desk.tick(0, exposed())
    assert desk.tick(30, exposed(due=-90, repeat=timedelta(minutes=5))) == NOTHING
    assert desk.tick(60, exposed(due=25)) == ([("Kim", 1, 0)], [])


def test_a_rule_without_repeat_is_told_of_once() -> None:
    desk, card = Desk(), exposed(repeat=None)
    assert desk.tick(5, card) == ([("Kim", 0, 0)], [])
    assert desk.tick(5_000, card) == NOTHING


def test_what_comes_back_within_15_minutes_is_the_same_spell() -> None:
    desk, card = Desk(), exposed()
    desk.tick(0, card)
    assert desk.tick(10) == NOTHING
    assert desk.tick(24) == NOTHING
    assert desk.tick(24.5, card) == NOTHING
    assert desk.tick(60, card) == ([("Kim", 1, 0)], [])
    assert len(desk.spells) == 1


def test_the_end_is_told_after_those_15_minutes_once_and_only_to_who_was_told() -> None:
    desk, card = Desk(), exposed()
    desk.tick(0, card)
    assert desk.tick(10) == NOTHING
    assert desk.tick(24, to=(KIM, LEE)) == NOTHING
    assert desk.tick(25) == ([], ["Kim"])
    assert desk.tick(26) == NOTHING


def test_what_ended_before_anybody_was_told_ends_in_silence() -> None:
    desk, card = Desk(), exposed(may_go=False)
    desk.tick(0, card)
    desk.tick(10)
    assert desk.tick(40) == NOTHING


def test_what_ends_by_itself_is_not_told_of_as_settled() -> None:
    desk, card = Desk(), exposed(all_clear=False)
    desk.tick(0, card)
    desk.tick(10)
    assert desk.tick(40) == NOTHING


def test_a_clock_that_is_set_back_does_not_put_off_the_end() -> None:
    desk, card = Desk(), exposed()
    desk.tick(0, card)
    desk.tick(10)
    assert desk.tick(-500) == NOTHING
    assert desk.tick(-485) == ([], ["Kim"])


def test_after_its_end_it_is_another_spell_with_an_anchor_of_its_own() -> None:
    desk = Desk()
    desk.tick(0, exposed())
    desk.tick(10)
    desk.tick(25)
    assert desk.tick(100, exposed(due=100)) == ([("Kim", 0, 0)], [])
    assert [spell.key.number for spell in desk.spells] == [1, 2]


def test_a_snooze_holds_back_and_does_not_skip() -> None:
    desk, card = Desk(), exposed()
    snooze = Snooze("Kim", "the card is on its way", minutes(90), subject="S-014")
    assert desk.tick(0, card, snoozes=(snooze,)) == NOTHING
    assert desk.tick(89, card, snoozes=(snooze,)) == NOTHING
    assert desk.tick(90, card, snoozes=(snooze,)) == ([("Kim", 1, 1)], [])


def test_a_snooze_is_of_what_it_names() -> None:
    desk, card = Desk(), exposed()
    other = Snooze("Kim", "set aside", minutes(90), subject="S-015")
    assert desk.tick(0, card, snoozes=(other,)) == ([("Kim", 0, 0)], [])


@pytest.mark.parametrize(
    ("clock", "waits"), [("21:59", False), ("22:00", True), ("06:59", True), ("07:00", False)]
)
def test_quiet_hours_go_by_the_wall_clock_and_over_midnight(clock: str, waits: bool) -> None:
    lisbon = ZoneInfo("Europe/Lisbon")
    quiet = Quiet(time(22), time(7), lisbon)
    now = datetime.combine(date(2026, 7, 1), time.fromisoformat(clock), lisbon)
    spell = follow([], {exposed().key: exposed()}, now)[0]
    assert held_back(spell, exposed(), now, quiet=quiet) is waits


def test_danger_goes_through_quiet_hours_if_the_production_wants_it() -> None:
    card = exposed(severity="danger")
    through = Quiet(time(8), time(10), UTC)
    assert Desk().tick(0, card, quiet=through) == ([("Kim", 0, 0)], [])
    assert Desk().tick(0, card, quiet=replace(through, pierced=False)) == NOTHING


def test_a_notice_that_is_not_danger_waits_for_working_hours() -> None:
    desk = Desk()
    assert desk.tick(0, exposed(may_go=False)) == NOTHING
    assert desk.tick(61, exposed()) == ([("Kim", 1, 1)], [])


def test_a_note_is_left_to_the_list_of_the_morning() -> None:
    assert Desk().tick(0, exposed(severity="note", all_clear=False)) == NOTHING


def test_each_recipient_is_decided_for_alone() -> None:
    desk, card = Desk(), exposed()
    desk.tick(0, card)
    assert desk.tick(5, card, to=(KIM, LEE)) == ([("Lee", 0, 0)], [])


@pytest.mark.parametrize("back", [1 / 60, 5, 60 * 24, 60 * 24 * 365])
def test_a_clock_that_is_set_back_says_nothing_twice_and_ends_nothing(back: float) -> None:
    desk, card = Desk(), exposed()
    desk.tick(0, card)
    desk.tick(60, card)
    for minute in (60, 70, 80, 90):
        assert desk.tick(minute - back, card) == NOTHING
    assert desk.tick(119, card) == NOTHING
    assert desk.tick(120, card) == ([("Kim", 2, 0)], [])


def test_an_end_is_told_once_even_if_the_clock_jumps_over_it_and_back() -> None:
    desk, card = Desk(), exposed()
    desk.tick(0, card)
    desk.tick(10)
    assert desk.tick(60 * 24 * 365) == ([], ["Kim"])
    assert desk.tick(12) == NOTHING
    assert desk.tick(13, card) == ([("Kim", 0, 0)], []), "another spell"


# Properties

ticks = st.lists(st.tuples(st.integers(1, 90), st.booleans(), st.booleans()), max_size=40)
"""Each: minutes since the one before, whether it holds, whether something holds it back."""


class Oracle:
    """Counts in minutes, and keeps a list of what it said."""

    def __init__(self, delay: int, repeat: int | None) -> None:
        self.delay, self.repeat = delay, repeat
        self.first: int | None = None
        self.ended_at: int | None = None
        self.said: list[int] = []
        self.skipped: set[int] = set()

    def opens(self, now: int) -> bool:
        """Whether what holds now is another spell."""
        gone = self.ended_at is not None and now - self.ended_at >= 15
        return self.first is None or gone

    def tick(self, now: int, holds: bool, held: bool) -> tuple[tuple[int, int] | None, bool]:
        """The turn that goes and how many collapse, and whether an end is told."""
        clear = False
        if self.first is not None and self.ended_at is not None and now - self.ended_at >= 15:
            clear = bool(self.said)
            self.first, self.ended_at, self.said, self.skipped = None, None, [], set()
        if not holds:
            if self.first is not None and self.ended_at is None:
                self.ended_at = now
            return None, clear
        self.ended_at = None
        if self.first is None:
            self.first = now
        return (None if held else self._turn(now)), clear

    def _turn(self, now: int) -> tuple[int, int] | None:
        assert self.first is not None
        minute, number, come = self.first + self.delay, 0, []
        while minute <= now:
            come.append(number)
            if self.repeat is None:
                break
            minute, number = minute + self.repeat, number + 1
        left = [n for n in come if n not in self.said and n not in self.skipped]
        if not left:
            return None
        self.said.append(left[-1])
        self.skipped.update(left[:-1])
        return left[-1], len(left) - 1


@settings(deadline=None, max_examples=200)
@given(ticks, st.integers(0, 40), st.none() | st.integers(1, 100))
def test_what_goes_out_is_what_an_independent_count_says(
    steps: list[tuple[int, bool, bool]], delay: int, repeat: int | None
) -> None:
    desk, oracle, now = Desk(), Oracle(delay, repeat), 0
    every = None if repeat is None else timedelta(minutes=repeat)
    for after, holds, held in steps:
        now += after
        # While a spell lasts, late facts move the moment about: in vain.
        due = now if oracle.opens(now) else now - 7
        card = exposed(due, delay=timedelta(minutes=delay), repeat=every, may_go=not held)
        went, cleared = desk.tick(now, *([card] if holds else []))
        turn, clear = oracle.tick(now, holds, held)
        assert [one[1:] for one in went] == ([] if turn is None else [turn])
        assert bool(cleared) is clear


@settings(deadline=None)
@given(
    st.lists(st.integers(-600, 600), max_size=30),
    st.integers(0, 30),
    st.none() | st.integers(1, 200),
)
def test_no_turn_is_decided_twice_wherever_the_clock_jumps(
    jumps: list[int], delay: int, repeat: int | None
) -> None:
    desk, now = Desk(), 0
    every = None if repeat is None else timedelta(minutes=repeat)
    card = exposed(delay=timedelta(minutes=delay), repeat=every)
    for jump in jumps:
        now += jump
        desk.tick(now, card)
    decided = [
        (turn.key.spell, number)
        for turn in desk.turns
        for number in (turn.key.turn, *turn.collapsed)
    ]
    assert len(decided) == len(set(decided))
    assert len(desk.spells) <= 1
    assert all(turn.at <= turn.decided for turn in desk.turns)


@given(st.integers(0, 50), st.none() | st.integers(1, 90), st.integers(0, 5_000))
def test_a_turn_comes_where_the_anchor_says(delay: int, repeat: int | None, now: int) -> None:
    every = None if repeat is None else timedelta(minutes=repeat)
    card = exposed(delay=timedelta(minutes=delay), repeat=every)
    spell = follow([], {card.key: card}, minutes(now))[0]
    turn = next_turn(spell, "Kim", "page", (), minutes(now))
    if now < delay:
        assert turn is None
        return
    assert turn is not None
    assert turn.at == minutes(delay + turn.key.turn * (repeat or 0))
    assert turn.at <= minutes(now) and (repeat is None or minutes(now - repeat) < turn.at)
    assert turn.collapsed == range(turn.key.turn)
