"""One sentence for each fact, in the crew's words: the history of a card is told with these."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, tzinfo
from typing import Any

from tracker.domain import facts as f
from tracker.domain.rule import in_words, rule_of
from tracker.domain.sizes import show_bytes, show_rate
from tracker.domain.whereabouts import in_hands


def sentence(fact: f.Fact, beside: Mapping[str, f.Fact] | None = None, zone: tzinfo = UTC) -> str:
    """What happened, without the time and without the card's own name.

    beside: facts of the same subject by id, so that a taking back names what it took back.
    zone: in which a time is told that somebody promised.
    """
    said = _said(fact, beside or {}, zone)
    return said[0].upper() + said[1:] + "."


def _said(fact: f.Fact, beside: Mapping[str, f.Fact], zone: tzinfo) -> str:
    said = " ".join(_SAID[type(fact)](fact).split()).rstrip(".")
    if isinstance(fact, f.Cleared) and fact.promise_until is not None:
        until = fact.promise_until.astimezone(zone)
        said += f", until {until:%Y-%m-%d %H:%M}{' UTC' if zone is UTC else ''}"
    if not isinstance(fact, f.AnyVoid) or fact.target not in beside:
        return said
    # Without the fact itself, so that two that take each other back end somewhere.
    others = {id_: other for id_, other in beside.items() if id_ != fact.id}
    target = others.get(fact.target)
    return said if target is None else f"{said} (it said: {_said(target, others, zone)})"


def _tail(text: str | None) -> str:
    return f" ({text})" if text else ""


def _count(number: int | float, one: str) -> str:
    return f"{number:,} {one}" if number == 1 else f"{number:,} {one}s"


def _figures(fact: Any) -> str:
    parts = []
    if fact.bytes is not None:
        parts.append(show_bytes(fact.bytes))
    if fact.clips is not None:
        parts.append(_count(fact.clips, "clip"))
    if fact.seconds is not None:
        parts.append(f"{fact.seconds:,.0f} s")
    if not parts:
        return ""
    return ", " + ", ".join(parts) + (", counted by a reader" if fact.measured else ", typed")


def _roll(fact: Any) -> str:
    if fact.roll is not None:
        return f"roll {fact.roll}"
    return "what was on it" if fact.roll_id is None else "one roll"


def _source(fact: Any) -> str:
    return "" if fact.made_from is None else f" from {fact.made_from}"


def _registered(fact: f.Registered) -> str:
    kind = "visiting card" if fact.visiting else "card"
    model = f", {fact.maker_model}" if fact.maker_model else ""
    return f"registered as a {kind}: {fact.media}, {show_bytes(fact.capacity_bytes)}{model}"


def _loaded(fact: f.Loaded) -> str:
    name = f" as {fact.roll}" if fact.roll else ""
    name = f" as {fact.guessed_roll}?" if not fact.roll and fact.guessed_roll else name
    role = "" if fact.loaded_as == "main" else f", {fact.loaded_as}"
    slot = "" if fact.slot is None else f", slot {fact.slot}"
    wiped = " and formatted there" if fact.formatted else ""
    return f"loaded into camera {fact.camera}{slot}{name}{role}{wiped}"


def _formatted(fact: f.Formatted) -> str:
    system = f" to {fact.file_system}" if fact.file_system else ""
    if fact.where == "camera":
        return (
            f"formatted in camera {fact.camera}{system}"
            if fact.camera
            else (f"formatted in a camera{system}")
        )
    if fact.where == "computer":
        return f"formatted on a computer{system}"
    return f"wiped before going back{system}"


def _pulled(fact: f.Pulled) -> str:
    mounted = ", without unmounting" if fact.unmounted is False else ""
    return f"pulled from the camera{_figures(fact)}{mounted}"


def _cleared(fact: f.Cleared) -> str:
    if fact.override_reason is None:
        return "cleared: may be formatted, in the camera"
    return (
        f"cleared against the rule ({fact.override_reason}), authorised by {fact.authorised_by}; "
        f"{fact.promise_by} promised: {fact.promise}"
    )


def _rule(fact: f.RuleSet) -> str:
    return f"the backup rule for {fact.rolls} rolls: {in_words(rule_of(fact))}"


def _camera(fact: f.CameraSet) -> str:
    takes = f", takes {fact.takes}" if fact.takes else ""
    needs = fact.needs_write_bytes_per_s
    speed = "" if needs is None else f", needs {show_rate(needs)}"
    return f"camera {fact.letters} of the {fact.unit} unit{takes}{speed}"


_SAID: dict[type[f.Fact], Callable[[Any], str]] = {
    f.Registered: _registered,
    f.CheckedIn: lambda x: (
        f"checked in: {'footage on it' if x.found == 'footage' else 'empty'}" + _tail(x.text)
    ),
    f.Relabelled: lambda x: f"relabelled from {x.card} to {x.new_label}",
    f.Loaded: _loaded,
    f.Formatted: _formatted,
    f.Pulled: _pulled,
    f.HandedOver: lambda x: f"handed over to {in_hands(x.to, x.place, x.outside)}",
    f.CopyStarted: lambda x: f"copy of {_roll(x)} to {x.drive} started{_source(x)}",
    f.CopyFinished: lambda x: f"copy of {_roll(x)} to {x.drive} finished{_source(x)}{_figures(x)}",
    f.CopyChecked: lambda x: (
        f"copy of {_roll(x)} on {x.drive} checked: {x.level}"
        + ("" if x.proof else ", with no proof named")
    ),
    f.CopyFailed: lambda x: f"copy of {_roll(x)} to {x.drive} failed: {x.reason}" + _tail(x.text),
    f.CopyLost: lambda x: f"copy of {_roll(x)} on {x.drive} lost: {x.reason}",
    f.RollRenamed: lambda x: (
        f"roll {x.roll} confirmed by name"
        if x.roll == x.new_name
        else f"roll {x.roll} renamed to {x.new_name}"
    ),
    f.DeclaredEmpty: lambda x: f"roll {x.roll} declared empty",
    f.WrittenOff: lambda x: (
        f"roll {x.roll} written off, authorised by {x.authorised_by}: " + x.reason
    ),
    f.Received: lambda x: (
        f"{x.received_from} received roll {x.roll} as {x.verdict}" + _tail(x.text)
    ),
    f.Cleared: _cleared,
    f.ClearingWithdrawn: lambda x: f"clearing withdrawn: {x.reason}",
    f.SetAside: lambda x: f"set aside: {x.reason}",
    f.ReturnedToService: lambda x: f"returned to service: {x.reason}",
    f.DamageNoted: lambda x: f"damage to its {x.part}, severity {x.severity} of 4: {x.text}",
    f.DamageSettled: lambda x: f"damage dealt with: {x.text}",
    f.HealthRead: lambda x: (
        f"health read with {x.tool}: {x.verdict}"
        + ("" if x.wear_percent is None else f", {x.wear_percent:g} % worn")
    ),
    f.SpeedMeasured: lambda x: (
        f"speed measured ({x.method})"
        + ("" if x.write_bytes_per_s is None else f", writes {show_rate(x.write_bytes_per_s)}")
        + ("" if x.read_bytes_per_s is None else f", reads {show_rate(x.read_bytes_per_s)}")
    ),
    f.Retired: lambda x: f"retired: {x.reason}" + _tail(x.text),
    f.ReportedMissing: lambda x: (
        "reported missing" + (f", last seen at {x.place}" if x.place else "") + _tail(x.text)
    ),
    f.Found: lambda x: "found" + (f" at {x.place}" if x.place else "") + _tail(x.text),
    f.Settled: lambda x: f"mishap settled ({x.mishap.replace('_', ' ')}): {x.reason}",
    f.Noted: lambda x: f"note: {x.text}",
    f.Voided: lambda x: f"an earlier entry was a mistake: {x.reason}",
    f.DriveRegistered: lambda x: (
        f"drive {x.drive} registered: {x.kind}, {show_bytes(x.capacity_bytes)}, {x.place}"
    ),
    f.DriveMoved: lambda x: (
        f"drive {x.drive} moved: {x.place}"
        + (f", with {x.holder}" if x.holder else "")
        + (f", seal {x.seal}" if x.seal else "")
    ),
    f.DriveEmptied: lambda x: f"drive {x.drive} emptied" + _tail(x.text),
    f.DriveFailed: lambda x: f"drive {x.drive} failed" + _tail(x.text),
    f.DriveLost: lambda x: f"drive {x.drive} lost" + _tail(x.text),
    f.DriveFound: lambda x: f"drive {x.drive} found" + _tail(x.text),
    f.DriveReturned: lambda x: f"drive {x.drive} returned" + _tail(x.text),
    f.DriveVoided: lambda x: f"an earlier entry about {x.drive} was a mistake: {x.reason}",
    f.Called: lambda x: f"{x.unit} unit called" + (f", day {x.day_number}" if x.day_number else ""),
    f.Wrapped: lambda x: (
        f"{x.unit} unit wrapped" + (f", day {x.day_number}" if x.day_number else "")
    ),
    f.UnitVoided: lambda x: f"an earlier entry about the {x.unit} unit was a mistake: {x.reason}",
    f.Counted: lambda x: (
        f"{_count(len(x.cards), 'card')} counted"
        + (f" at {x.place}" if x.place else "")
        + (f", not found: {', '.join(x.not_found)}" if x.not_found else "")
    ),
    f.ProofKept: lambda x: f"proof kept: {x.kind}, {show_bytes(x.bytes)}, {x.sha256[:12]}",
    f.PlanCommitted: lambda x: f"plan for {x.day} committed, {_count(len(x.lines), 'line')}",
    f.CameraSet: _camera,
    f.RuleSet: _rule,
    f.ProductionVoided: lambda x: f"an earlier entry was a mistake: {x.reason}",
}
