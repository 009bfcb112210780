"""The backup rule, and whether a roll meets it: `covered`.

A roll is covered when enough copies of it count, the card itself not among them. Everything here
is asked at a moment, since drives get lost, proofs arrive, and the rule changes.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, time, tzinfo
from typing import NamedTuple

from tracker.domain.drives import Drive, DriveState
from tracker.domain.facts import END, LEVELS, START, DrivePlace, Level, Moment, RuleSet, moment
from tracker.domain.rolls import Finish, Roll, owes

RANK: dict[Level, int] = {level: rank for rank, level in enumerate(LEVELS)}
OFF_SITE: DrivePlace = "off site"


@dataclass(frozen=True, slots=True)
class BackupRule:
    """How many copies, on what, at which check level, before a card may be formatted.

    kinds: different kinds of drive among them. off_site: copies that are off site (in transit is
    not). receipt: post must have said `good`. hold_days: days from the pull for which clearing
    is withheld; they do not make a roll uncovered.
    """

    copies: int
    level: Level = "checksummed"
    kinds: int = 1
    off_site: int = 0
    receipt: bool = False
    hold_days: int = 0


RECOMMENDED = BackupRule(copies=3, level="checksummed", kinds=2, off_site=1)
"""Three copies, two kinds of drive, one off site, before a card is formatted."""

SHORT_POOL = BackupRule(copies=2, level="checksummed")
"""Two copies on two drives; a third goes off site within a day, which reminders watch."""

PROXY = BackupRule(copies=1, level="listed")
"""What a proxy needs until the production says otherwise."""


def in_words(rule: BackupRule) -> str:
    """The rule in plain words."""
    copies = "one copy" if rule.copies == 1 else f"{rule.copies} copies"
    parts = [f"{copies}, {rule.level}"]
    parts += [f"on {rule.kinds} kinds of drive"] if rule.kinds > 1 else []
    parts += [f"{rule.off_site} of them off site"] if rule.off_site else []
    parts += ["received as good by post"] if rule.receipt else []
    days = "1 day" if rule.hold_days == 1 else f"{rule.hold_days} days"
    parts += [f"kept on the card for {days}"] if rule.hold_days else []
    return ", ".join(parts) + ", before a card is formatted"


class RuleBook:
    """The backup rule over time.

    The production's first rule counts from the start. A later one, and for proxies every one,
    acts from its logging; in a history, from when it happened.
    """

    def __init__(self, facts: Iterable[RuleSet], first: BackupRule | None = None) -> None:
        self._main: list[tuple[Moment, BackupRule]] = [(START, first)] if first else []
        self._proxy: list[tuple[Moment, BackupRule]] = [(START, PROXY)]
        for at, fact in sorted((acts_from(f), f) for f in facts):
            if fact.rolls == "proxy":
                self._proxy.append((at, rule_of(fact)))
            else:
                self._main.append((at if self._main else START, rule_of(fact)))
        if not self._main:
            self._main.append((START, RECOMMENDED))

    def at(self, roll: Roll, at: Moment) -> BackupRule:
        """The rule for a roll: that of the moment, or for ever that of when it was wiped."""
        rules = self._proxy if roll.loaded_as == "proxy" else self._main
        if len(rules) == 1:
            return rules[0][1]
        when = roll.wiped if roll.wiped is not None else at
        return rules[bisect_right(rules, when, key=lambda entry: entry[0]) - 1][1]

    @property
    def proxy(self) -> BackupRule:
        """The rule for proxies in force in the end."""
        return self._proxy[-1][1]

    @property
    def main(self) -> BackupRule:
        """The rule in force in the end."""
        return self._main[-1][1]

    @property
    def changes(self) -> list[Moment]:
        """When a rule began to act, after the first."""
        return [at for at, _ in self._main[1:] + self._proxy[1:]]


def in_words_for(rules: RuleBook, rolls: Iterable[Roll]) -> str:
    """What is asked for some rolls, in plain words; of proxies something else is asked."""
    proxies = {roll.loaded_as == "proxy" for roll in rolls}
    if True not in proxies:
        return in_words(rules.main)
    if False not in proxies:
        return in_words(rules.proxy)
    return f"{in_words(rules.main)}; of proxies for {in_words(rules.proxy)}"


def acts_from(fact: RuleSet) -> Moment:
    """From when a rule that is not the first one acts: never earlier than it happened."""
    if fact.source == "history":
        return moment(fact)
    at = max(fact.logged_at, fact.occurred_at)
    return (at, fact.logged_at, fact.origin, fact.id)


def rule_of(fact: RuleSet) -> BackupRule:
    """The rule that a fact sets."""
    return BackupRule(
        fact.copies, fact.level, fact.kinds, fact.off_site, fact.receipt, fact.hold_days
    )


@dataclass(frozen=True, slots=True)
class Context:
    """What a card's fold must know of the world beyond the card.

    proofs: the moment from which each proof has been kept here, by SHA-256. mains: for a mirror
    roll (by id) the changes of whether its main roll was covered; main_rolls: which that is.
    readable: file systems that a cart computer can read; None while none is described.
    """

    drives: Mapping[str, Drive]
    rules: RuleBook
    zone: tzinfo = UTC
    day_starts: time = time(0)
    proofs: Mapping[str, Moment] | None = None
    mains: Mapping[str, list[tuple[Moment, bool]]] | None = None
    main_rolls: Mapping[str, str] | None = None
    readable: frozenset[str] | None = None


class Counting(NamedTuple):
    """Copies of a roll that count: each with its drive, its place, and its level."""

    finish: Finish
    drive: Drive
    off_site: bool
    rank: int


def covered(roll: Roll, context: Context, at: Moment = END) -> bool:
    """Whether a closed roll met the backup rule at a moment; at END: as it stands.

    A roll that owes nothing is covered. A mirror is covered by its main roll, or by copies of
    its own.
    """
    if roll.closed is None:
        return False
    if not owes(roll):
        return True
    if roll.verdict == "bad":
        return False
    if roll.loaded_as == "mirror" and main_covered(roll, context, at):
        return True
    return meets(roll, context.rules.at(roll, at), context, at)


def meets(roll: Roll, rule: BackupRule, context: Context, at: Moment) -> bool:
    """Whether the copies of a roll, and what post said of it, are enough for a rule."""
    if roll.verdict == "bad" or (rule.receipt and roll.verdict != "good"):
        return False
    if len(roll.copies) < rule.copies:
        return False
    enclosures: set[str] = set()
    away: set[str] = set()
    kinds: set[str] = set()
    wanted = RANK[rule.level]
    for finish, drive, state in _that_count(roll, context, at):
        if rank(finish, roll, context, at) >= wanted:
            enclosures.add(drive.enclosure)
            kinds.add(drive.kind)
            if state.place == OFF_SITE:
                away.add(drive.enclosure)
    return (
        len(enclosures) >= rule.copies and len(kinds) >= rule.kinds and len(away) >= rule.off_site
    )


def only_level_wanting(roll: Roll, context: Context, at: Moment = END) -> bool:
    """Whether the roll would be covered if every copy were checked at the rule's level."""
    rule = context.rules.at(roll, at)
    at_any_level = BackupRule(
        rule.copies, "claimed", rule.kinds, rule.off_site, rule.receipt, rule.hold_days
    )
    return meets(roll, at_any_level, context, at)


def counting(roll: Roll, context: Context, at: Moment) -> Iterator[Counting]:
    """The copies that count, at whatever level; partitions of one enclosure one by one."""
    for finish, drive, state in _that_count(roll, context, at):
        believed = rank(finish, roll, context, at)
        yield Counting(finish, drive, state.place == OFF_SITE, believed)


def _that_count(
    roll: Roll, context: Context, at: Moment
) -> Iterator[tuple[Finish, Drive, DriveState]]:
    for copy in roll.copies.values():
        if copy.finish is None:
            continue
        finish = roll.finishes[copy.finish]
        drive = context.drives[copy.drive]
        state = drive.at(at)
        if not state.usable or (state.emptied is not None and finish.at < state.emptied):
            continue
        if sound(finish, roll):
            yield finish, drive, state


def sound(finish: Finish, roll: Roll) -> bool:
    """Whether nothing speaks against a finish: not short, not different, nor what it is made from.

    A copy made from a drive on which there was none, or from its own drive, is not sound. That
    its parent was lost since changes nothing.
    """
    if finish.made_from is None:
        return not finish.short and finish.proved is None
    seen = {finish.fact}
    while not (finish.short or finish.proved is not None):
        if finish.made_from is None:
            return True
        parent = parent_of(finish, roll)
        if parent is None or parent.fact in seen:
            return False
        seen.add(parent.fact)
        finish = parent
    return False


def parent_of(finish: Finish, roll: Roll) -> Finish | None:
    """What a finish was made from, as that copy stands since."""
    if finish.parent is None:
        return None
    parent = roll.finishes[finish.parent]
    while parent.replaced_by is not None:
        parent = roll.finishes[parent.replaced_by]
    return parent


def lineage(finish: Finish, roll: Roll) -> list[Finish]:
    """A finish, what it was made from, what that was made from, and so on; each once."""
    line = [finish]
    while (parent := parent_of(line[-1], roll)) is not None and parent not in line:
        line.append(parent)
    return line


def rank(finish: Finish, roll: Roll, context: Context, at: Moment) -> int:
    """The rank (in LEVELS) at which a finish is believed: never above what it was made from.

    A check above `claimed` needs its proof kept here; until then the copy counts as claimed.
    """
    own = _own_rank(finish, context, at)
    if finish.parent is None or not own:
        return own
    return min(_own_rank(one, context, at) for one in lineage(finish, roll))


def _own_rank(finish: Finish, context: Context, at: Moment) -> int:
    best = 0
    for check in finish.checks:
        if RANK[check.level] > best and check.proof is not None:
            kept = check.believed or _kept(check.proof, context, at)
            best = RANK[check.level] if kept else best
    return best


def awaited_proofs(finish: Finish, roll: Roll, context: Context) -> list[str]:
    """Proofs that checks of a finish, or of what it was made from, name and nobody kept yet."""
    named = [check for one in lineage(finish, roll) for check in one.checks]
    waited = [c.proof for c in named if c.proof is not None and not c.believed]
    if not waited:
        return []
    return [proof for proof in dict.fromkeys(waited) if not _kept(proof, context, END)]


def _kept(proof: str, context: Context, at: Moment) -> bool:
    since = (context.proofs or {}).get(proof)
    return since is not None and since <= at


def main_covered(roll: Roll, context: Context, at: Moment) -> bool:
    """Whether the main roll of a mirror was covered at a moment."""
    changes = (context.mains or {}).get(roll.id)
    if not changes:
        return False
    index = bisect_right(changes, at, key=lambda change: change[0])
    return index > 0 and changes[index - 1][1]


def under_way(roll: Roll, context: Context, at: Moment = END) -> bool:
    """Whether a copy of what the roll holds now is being made, on a drive that can be had."""
    for copy in roll.copies.values():
        if copy.attempt is None:
            continue
        state = context.drives[copy.drive].at(at)
        if state.usable and (state.emptied is None or state.emptied < copy.attempt.at):
            return True
    return False
