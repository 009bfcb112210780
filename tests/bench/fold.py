"""How fast the domain folds: one million facts of 1,000 cards, and one step on a kept state.

    python -m tests.bench.fold [CARDS] [CYCLES]

The baseline in the same run is what the machine does with the same facts when it only sorts them
and looks up one function for each: the least that any fold in this language must do.
"""

from __future__ import annotations

import gc
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

from tracker.domain import facts as f
from tracker.domain.drives import drives_of
from tracker.domain.fold import fold, fold_cards, in_order
from tracker.domain.rule import BackupRule, Context, RuleBook
from tracker.domain.step import step

BEGIN = datetime(2026, 1, 1, tzinfo=UTC)
GB = 10**9


def season(cards: int, cycles: int) -> dict[str, list[f.CardFact]]:
    """Facts by card: each cycle is shot, copied twice, checked, cleared and handed back."""
    return {f"C-{n:04d}": list(_card(f"C-{n:04d}", n, cycles)) for n in range(cards)}


def _card(label: str, number: int, cycles: int) -> Iterator[f.CardFact]:
    count = 0

    def say(kind: Callable[..., f.CardFact], at: datetime, **more: object) -> f.CardFact:
        nonlocal count
        count += 1
        logged = BEGIN + timedelta(microseconds=number * 1_000_000 + count)
        return kind(
            id=f"{number:06d}-{count:06d}", occurred_at=at, logged_at=logged, origin="bench",
            source="history", card=label, **more,
        )  # fmt: skip

    yield say(f.Registered, BEGIN, media="ssd", capacity_bytes=1000 * GB)
    for cycle in range(cycles):
        start = BEGIN + timedelta(hours=5 * cycle, minutes=number % 50)
        minute = [start + timedelta(minutes=m) for m in range(120)]
        roll = f"A{cycle:04d}"
        size: dict[str, object] = {"bytes": 480 * GB, "clips": 18}
        yield say(f.Loaded, start, camera="A", roll=roll, formatted=True)
        yield say(f.Pulled, minute[60], **size)
        yield say(f.HandedOver, minute[61], to="Kim", place="cart")
        for n, drive in enumerate(("RAID", "SHUTTLE")):
            yield say(f.CopyStarted, minute[70 + n], drive=drive, roll=roll)
        for n, drive in enumerate(("RAID", "SHUTTLE")):
            done = minute[90 + n]
            yield say(f.CopyFinished, done, drive=drive, roll=roll, measured=True, **size)
            level = {"level": "checksummed", "proof": "a" * 64}
            yield say(f.CopyChecked, minute[95 + n], drive=drive, roll=roll, **level)
        yield say(f.Cleared, minute[100])
        yield say(f.HandedOver, minute[105], to="Lee", place="camera crew")


def context() -> Context:
    """Two drives, two copies."""
    drives = [
        f.DriveRegistered(
            id=label, occurred_at=BEGIN, logged_at=BEGIN, origin="bench", drive=label,
            kind="ssd", capacity_bytes=10_000 * GB, place="on set",
        )
        for label in ("RAID", "SHUTTLE")
    ]  # fmt: skip
    return Context(drives=drives_of(drives), rules=RuleBook([], BackupRule(2)))


def seconds(work: Callable[[], object]) -> float:
    """Seconds of one run, with the collector's debts paid before."""
    gc.collect()
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def least(by_card: dict[str, list[f.CardFact]]) -> int:
    """Sort each card's facts and look one function up for each."""
    table = dict.fromkeys(f.FACTS, len)
    return sum(1 for facts in by_card.values() for fact in in_order(facts) if table[type(fact)])


def main() -> None:
    """Print the figures."""
    cards, cycles = (int(word) for word in (sys.argv[1:] + ["1000", "91"][len(sys.argv) - 1 :]))
    by_card, around = season(cards, cycles), context()
    total = sum(map(len, by_card.values()))
    baseline = seconds(lambda: least(by_card))
    folded = seconds(lambda: fold_cards(by_card, around))
    print(f"{total:,} facts of {cards:,} cards")
    print(f"baseline, sort and look up: {total / baseline:12,.0f} facts/s")
    print(f"fold:                       {total / folded:12,.0f} facts/s")
    first = next(iter(by_card.values()))
    kept = fold(first[:-11], around)
    times = []
    for _ in range(200):
        state = kept
        for fact in first[-11:]:
            started = time.perf_counter()
            state = step(state, fact, around)
            times.append(time.perf_counter() - started)
    print(f"step on a kept state:       {statistics.median(times) * 1e6:12.1f} us (median)")


if __name__ == "__main__":
    main()
