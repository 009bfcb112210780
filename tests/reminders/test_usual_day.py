"""A usual day of the demo: how many notices does each person get? Few."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import seed_demo
from tracker.domain.facts import Fact
from tracker.domain.fold import fold_production
from tracker.domain.rule import BackupRule
from tracker.reminders.digests import next_digest
from tracker.reminders.rules import RULES, Condition, due
from tracker.reminders.seen import see
from tracker.reminders.turns import Spell, SpellKey, all_clear, follow, go_out
from tracker.wire.folder import read_folder

LISBON = ZoneInfo("Europe/Lisbon")
DAY = date(2026, 5, 20)
DESCRIBE = ("registered", "drive_registered", "camera_set")
HALF_AN_HOUR = timedelta(minutes=30)


def test_on_a_usual_day_nobody_gets_more_than_four_messages(tmp_path: Path) -> None:
    """Wednesday of the sixth week, from 06:30 to 22:00, looked at every half hour."""
    seed_demo.write(tmp_path)
    facts = read_folder(tmp_path).facts
    messages: Counter[str] = Counter()
    by_rule: Counter[tuple[str, str]] = Counter()
    spells: list[Spell] = []
    decided: dict[tuple[SpellKey, str, str], set[int]] = {}
    days: dict[str, set[date]] = {}
    now = start = datetime.combine(DAY, time(6, 30), LISBON)
    while now.time() <= time(22):
        spoken_of = conditions(facts, now)
        spells = follow(spells, spoken_of, now)
        to = {key: [(role, "page") for role in one.who] for key, one in spoken_of.items()}
        told: set[str] = set()
        for turn in go_out(spells, spoken_of, to, decided, now):
            key = (turn.key.spell, turn.key.to, turn.key.channel)
            decided.setdefault(key, set()).update((turn.key.turn, *turn.collapsed))
            told.add(turn.key.to)
            by_rule[turn.key.spell.rule, turn.key.to] += 1
        for spell in spells:
            before = [(role, "page") for key, role, _ in decided if key == spell.key]
            told.update(role for role, _ in all_clear(spell, before, ()))
        told |= lists(spoken_of, now, start, days)
        messages.update(told)
        now += HALF_AN_HOUR
    assert messages == {"data manager": 3, "loader": 1, "production office": 1}
    assert by_rule == {("at wrap", "data manager"): 2, ("at wrap", "loader"): 1}


def conditions(facts: list[Fact], now: datetime) -> dict[tuple[str, str], Condition]:
    """What the rules speak of, from what had happened by then; lists count from the start."""
    production = fold_production(
        [f for f in facts if f.occurred_at <= now or f.event in DESCRIBE],
        rule=BackupRule(**seed_demo.ABOUT["rule"]),
        zone=LISBON,
        day_starts=time(5),
    )
    seen = see(production, now)
    return {one.key: one for rule in RULES for one in due(seen, rule, now)}


def lists(
    spoken_of: dict[tuple[str, str], Condition],
    now: datetime,
    since: datetime,
    days: dict[str, set[date]],
) -> set[str]:
    """Who gets a list of the morning now."""
    got = set()
    for role in ("data manager", "loader", "production office"):
        decided = days.setdefault(role, set())
        digest = next_digest(now, time(7), LISBON, decided, since)
        if digest is None:
            continue
        decided.add(digest.day)
        notes = (one for one in spoken_of.values() if one.severity == "note" and one.holds(now))
        if any(role in one.who for one in notes):
            got.add(role)
    return got
