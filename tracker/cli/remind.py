"""`cardwright remind --dry-run`: what people would be reminded of at a time, and why."""

from __future__ import annotations

import json
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from tracker.bootstrap import opened
from tracker.cli.working import data_option, json_option
from tracker.config import settings
from tracker.services.reminding import Due, Message, Preview, would_go_out, zone_of

NOT_YET = (
    "Notices are sent by the process that serves the pages, once it can. Add --dry-run to see "
    "what would go out."
)


@click.command()
@click.option(
    "--at",
    "said",
    metavar="TIME",
    help="When, as in 2026-05-22T18:30, or 18:30 of today, in the production's time zone; "
    "without it now.",
)
@click.option("--dry-run", is_flag=True, help="Only say what would go out; nothing is sent.")
@data_option
@json_option
def remind(said: str | None, dry_run: bool, data: Path | None, as_json: bool) -> int:
    """Say what people would be reminded of at a TIME, to whom it would go, and why.

    It goes by all that is known now of what had happened by then. Exit code 1 where danger is
    told of.
    """
    if not dry_run:
        raise click.UsageError(NOT_YET)
    with opened(settings(data)) as service:
        at = _moment(said, service.clock(), zone_of(service))
        found = would_go_out(service, at)
    if as_json:
        click.echo(json.dumps(for_programs(found), ensure_ascii=False, indent=1))
    else:
        click.echo("\n".join(_told(found)))
    danger = any(d.condition.severity == "danger" for m in found.messages for d in m.now)
    return 1 if danger else 0


def _moment(said: str | None, now: datetime, zone: ZoneInfo) -> datetime:
    """The time that was meant; a usage error if it is none."""
    if said is None:
        return now
    try:
        if len(said) <= len("hh:mm:ss"):
            clock = time.fromisoformat(said)
            return datetime.combine(now.astimezone(zone).date(), clock, zone)
        read = datetime.fromisoformat(said)
    except ValueError:
        expected = "a time like 2026-05-22T18:30 or 18:30"
        raise click.UsageError(f"--at: found {said!r}, expected {expected}.") from None
    return read.replace(tzinfo=zone) if read.tzinfo is None else read


def for_programs(found: Preview) -> dict[str, Any]:
    """What would go out, as JSON: times with their offset, durations in seconds."""
    return {
        "at": _iso(found.at, found.zone),
        "messages": [
            {
                "to": message.to,
                "people": list(message.people),
                "now": [_one(one, found.zone) for one in message.now],
                "waiting": [_one(one, found.zone) for one in message.waiting],
                "morning_list": [_one(one, found.zone) for one in message.morning],
            }
            for message in found.messages
        ],
    }


def _one(one: Due, zone: ZoneInfo) -> dict[str, Any]:
    condition = one.condition
    repeat = condition.repeat
    return {
        "subject": condition.subject,
        "rule": condition.rule,
        "about": condition.about,
        "unit": condition.unit,
        "severity": condition.severity,
        "since": _iso(condition.since, zone),
        "due": None if condition.due is None else _iso(condition.due, zone),
        "notice": one.turn + 1,
        "notice_at": _iso(one.at, zone),
        "repeat_s": None if repeat is None else repeat.total_seconds(),
        "person": condition.person,
        "says": condition.says,
        "to_do": condition.to_do,
        "list": list(condition.lines),
    }


def _iso(at: datetime, zone: ZoneInfo) -> str:
    return at.astimezone(zone).isoformat()


def _told(found: Preview) -> list[str]:
    """What would go out, for people."""
    when = f"{found.at.astimezone(found.zone):%Y-%m-%d %H:%M} ({found.zone.key})"
    some = [message for message in found.messages if message.now]
    if some:
        lines = [f"At {when} this would go out. Nothing is sent."]
    else:
        lines = [f"At {when} nobody would be reminded of anything."]
    for message in some:
        lines += ["", _title(message)]
        for one in message.now:
            lines += _lines(one, found)
    for message in found.messages:
        lines += _later(message, found)
    return lines


def _title(message: Message) -> str:
    count = len(message.now)
    danger = sum(one.condition.severity == "danger" for one in message.now)
    things = "1 thing" if count == 1 else f"{count} things"
    said = f", danger in {danger} of them" if danger else ""
    return f"To the {message.to}{_names(message)}, one message: {things}{said}"


def _names(message: Message) -> str:
    return f" ({', '.join(message.people)})" if message.people else " (nobody has this role yet)"


def _lines(one: Due, found: Preview) -> list[str]:
    condition = one.condition
    mark = "DANGER. " if condition.severity == "danger" else ""
    listed = [f"    - {line}" for line in condition.lines]
    return [f"  * {mark}{condition.says} {condition.to_do}", *listed, f"    {_why(one, found)}"]


def _why(one: Due, found: Preview) -> str:
    """By which rule, since when, and whether it was told of before."""
    condition = one.condition
    assert condition.due is not None
    today = found.at.astimezone(found.zone).date()
    nth = "" if not one.turn else f"; notice {one.turn + 1} of it, of {_when(one.at, found, today)}"
    repeat = f"; again every {_hours(condition.repeat)}" if condition.repeat else ""
    return f"Why: {condition.rule}; due since {_when(condition.due, found, today)}{nth}{repeat}."


def _when(at: datetime, found: Preview, today: date) -> str:
    here = at.astimezone(found.zone)
    return f"{here:%H:%M}" if here.date() == today else f"{here:%Y-%m-%d %H:%M}"


def _hours(length: timedelta) -> str:
    return f"{length / timedelta(hours=1):g} h"


def _later(message: Message, found: Preview) -> list[str]:
    """What is open, and does not go now."""
    lines = []
    if message.waiting:
        about = ", ".join(one.condition.about for one in message.waiting)
        lines.append(f"For the {message.to}, waiting for working hours: {about}.")
    if message.morning:
        clock = f"{found.morning_list:%H:%M}"
        about = ", ".join(one.condition.about for one in message.morning)
        lines.append(f"For the {message.to}, on the next list of {clock}: {about}.")
    return ["", *lines] if lines else []
