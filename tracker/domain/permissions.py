"""What we withhold: may a card be formatted, may it go into a camera.

Facts are never refused. These answers are the reasons why not, each with what would settle it;
an empty list is a yes. The camera's manual, the production's own rules and the people
responsible come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from tracker.domain.card import CardState
from tracker.domain.facts import END, LEVELS, CameraSet, Moment
from tracker.domain.rolls import Roll, owes
from tracker.domain.rule import (
    RANK,
    BackupRule,
    Context,
    counting,
    covered,
    meets,
    only_level_wanting,
)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why not. says: in the crew's words; settles: what would settle it; roll: by name."""

    code: str
    says: str
    settles: str
    roll: str | None = None


def may_clear(state: CardState, context: Context, at: Moment = END) -> list[Reason]:
    """Why a card may not be cleared at a moment.

    `hold_days` count from the pull, so that a moment (not only an order) is needed for them.
    """
    reasons: list[Reason] = []
    if state.visiting:
        reasons.append(
            Reason(
                "visiting",
                "it is somebody else's card",
                "give it back when everything on it is copied; its owner formats it",
            )
        )
    if not state.seen:
        reasons.append(
            Reason("unseen", "nobody has looked at what is on it", "look, and check it in")
        )
    if state.opened is not None:
        roll = state.rolls[state.opened]
        reasons.append(
            Reason("loaded", f"it is in camera {roll.camera}", "pull it first", roll.name)
        )
    for roll in state.closed_rolls():
        if not covered(roll, context, at):
            reasons.append(_not_covered(roll, context, at))
        elif owes(roll) and (held := _held_until(roll, context, at)) is not None:
            reasons.append(held)
    return reasons


def _not_covered(roll: Roll, context: Context, at: Moment) -> Reason:
    rule = context.rules.at(roll, at)
    if roll.verdict == "bad":
        return Reason(
            "post_says_bad",
            f"post says that roll {roll.name} is bad",
            "check its copies, copy it again, and wait for post to receive it as good",
            roll.name,
        )
    there = list(counting(roll, context, at))
    good = [copy for copy in there if copy.rank >= RANK[rule.level]]
    if only_level_wanting(roll, context, at):
        unchecked = ", ".join(
            f"{c.finish.drive} is {LEVELS[c.rank]}" for c in there if c.rank < RANK[rule.level]
        )
        return Reason(
            "level",
            f"the copies of roll {roll.name} are not checked as the rule asks ({unchecked})",
            f"check them, {rule.level}",
            roll.name,
        )
    count = len({copy.drive.enclosure for copy in good})
    drives = ", ".join(copy.finish.drive for copy in good)
    says = f"roll {roll.name} has {count} of {rule.copies} copies that count ({drives})"
    if not count:
        says = f"roll {roll.name} has no copy that counts; the rule asks for {rule.copies}"
    return Reason("copies", says, _wanting(roll, rule, context, at), roll.name)


def _wanting(roll: Roll, rule: BackupRule, context: Context, at: Moment) -> str:
    """What would settle it: the first thing that the rule still asks for."""
    copies = list(counting(roll, context, at))
    good = [copy for copy in copies if copy.rank >= RANK[rule.level]]
    count = len({copy.drive.enclosure for copy in good})
    if count < rule.copies:
        more = rule.copies - count
        wanted = "1 copy" if more == 1 else f"{more} copies"
        return f"make {wanted}{' more' if count else ''}, {rule.level}, each on its own drive"
    if len({copy.drive.kind for copy in good}) < rule.kinds:
        return f"make a copy on another kind of drive: the rule asks for {rule.kinds} kinds"
    if sum(copy.off_site for copy in good) < rule.off_site:
        return f"bring a copy off site: the rule asks for {rule.off_site}"
    bare = BackupRule(rule.copies, rule.level, rule.kinds, rule.off_site)
    if rule.receipt and meets(roll, bare, context, at):
        return "wait for post to receive it as good"
    return "make another full copy of it"


def enough_copies(roll: Roll, context: Context, at: Moment = END) -> bool:
    """Whether as many copies of a roll count as the rule asks for, though it may ask for more."""
    rule = context.rules.at(roll, at)
    good = [copy for copy in counting(roll, context, at) if copy.rank >= RANK[rule.level]]
    return len({copy.drive.enclosure for copy in good}) >= rule.copies


def kept_until(roll: Roll, context: Context, at: Moment = END) -> datetime | None:
    """Until when a roll is kept on its card whatever copies there are; None if for no time."""
    days = context.rules.at(roll, at).hold_days
    if not days or roll.closed is None:
        return None
    return roll.closed[0] + timedelta(days=days)


def _held_until(roll: Roll, context: Context, at: Moment) -> Reason | None:
    until = kept_until(roll, context, at)
    if at == END or until is None or at[0] >= until:
        return None
    shown = f"{until.astimezone(context.zone):%Y-%m-%d %H:%M}"
    return Reason("hold", f"roll {roll.name} is kept on the card until {shown}", "wait", roll.name)


def may_load(
    state: CardState,
    camera: CameraSet,
    context: Context,
    at: Moment = END,
    *,
    roll: str | None = None,
    body: str | None = None,
) -> list[Reason]:
    """Why a card should not go into a camera: a warning, since a load is a fact.

    roll: the roll that the camera will go on with. body: the camera body in that position.
    """
    reasons = _unfit(state)
    for held in state.closed_rolls():
        resumes = roll is not None and roll in held.names and held.camera == camera.letters
        if not resumes and not covered(held, context, at):
            reason = _not_covered(held, context, at)
            says = f"it holds roll {held.name}, which is not backed up"
            reasons.append(Reason("uncovered", says, reason.settles, held.name))
    return reasons + _formatted_elsewhere(state, camera, body) + _unsuited(state, camera)


def _unfit(state: CardState) -> list[Reason]:
    reasons = []
    if state.retired is not None:
        reasons.append(Reason("retired", f"it is retired ({state.retired})", "take another card"))
    if state.missing:
        reasons.append(Reason("missing", "it is reported missing", "log that it was found"))
    reasons += [
        Reason("set aside", f"it is set aside: {why}", "a data manager decides")
        for why in state.set_aside
    ]
    return reasons if state.set_aside else [*reasons, *_damaged(state)]


def _damaged(state: CardState) -> list[Reason]:
    """Damage for which it must not be used, and that nobody dealt with before it was used again."""
    return [
        Reason("damage", f"damage to its {one.part}: {one.text}", "say what was done about it")
        for one in state.damage
        if one.severity >= 3 and one.id not in state.damage_settled
    ]


def _formatted_elsewhere(state: CardState, camera: CameraSet, body: str | None) -> list[Reason]:
    last = state.last_format
    if last is None or not last.in_camera:
        return []
    reasons = []
    if None not in (last.body, body) and last.body != body:
        says = f"it was last formatted in another body ({last.body})"
        reasons.append(Reason("body", says, "format it in this camera"))
    elif last.camera is not None and last.camera != camera.letters and body is None:
        says = f"it was last formatted in camera {last.camera}"
        reasons.append(Reason("body", says, "format it in this camera"))
    if None not in (last.file_system, camera.formats_to) and (
        last.file_system != camera.formats_to
    ):
        says = f"it was last formatted to {last.file_system}, not {camera.formats_to}"
        reasons.append(Reason("file system", says, "format it in this camera"))
    return reasons


def _unsuited(state: CardState, camera: CameraSet) -> list[Reason]:
    card = state.registered
    if card is None:
        return []
    reasons = []
    if camera.takes is not None and card.media.casefold() != camera.takes.casefold():
        says = f"it is a {card.media}; camera {camera.letters} takes {camera.takes}"
        reasons.append(Reason("media", says, "take another card"))
    speed, needs = card.sustained_write_bytes_per_s, camera.needs_write_bytes_per_s
    if speed is not None and needs is not None and speed < needs:
        says = f"it writes {speed / 1e6:g} MB/s; the camera needs {needs / 1e6:g} MB/s"
        reasons.append(Reason("too slow", says, "take a faster card"))
    return reasons
