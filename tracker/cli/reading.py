"""From a folder of files to what is true: shared by the commands that work without a database."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from tracker.cli.working import data_option
from tracker.domain.errors import Misnamed
from tracker.domain.facts import RuleSet
from tracker.domain.fold import Production, fold_production
from tracker.domain.rule import BackupRule, rule_of
from tracker.wire.codec import decode
from tracker.wire.faults import BadInput, Fault
from tracker.wire.folder import read_folder

Command = TypeVar("Command", bound=Callable[..., Any])

_RULE_ID = "00000000-0000-4000-8000-000000000000"


class RuleType(click.ParamType[BackupRule]):
    """A backup rule as JSON, the fields of `rule_set`."""

    name = "JSON"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> BackupRule:
        """The rule; a usage error names every field at fault."""
        if isinstance(value, BackupRule):
            return value
        try:
            given = json.loads(value)
        except ValueError:
            given = None
        if not isinstance(given, dict):
            self.fail('expected JSON like {"copies": 2, "level": "checksummed"}', param, ctx)
        now = datetime(2000, 1, 1, tzinfo=UTC)
        said = {"id": _RULE_ID, "event": "rule_set", "occurred_at": now.isoformat()}
        try:
            fact = decode({**given, **said}, logged_at=now, origin="command", source="history")
        except BadInput as error:
            self.fail("; ".join(fault.message for fault in error.faults), param, ctx)
        assert isinstance(fact, RuleSet)
        return rule_of(fact)


class ZoneType(click.ParamType[ZoneInfo]):
    """A time zone of the tz database."""

    name = "ZONE"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> ZoneInfo:
        """The zone; a usage error if there is none of that name."""
        if isinstance(value, ZoneInfo):
            return value
        try:
            return ZoneInfo(value)
        except (OSError, ValueError, LookupError):
            self.fail(f"{value!r} is no time zone, expected one like Europe/Helsinki", param, ctx)


class ClockType(click.ParamType[time]):
    """A time of day, hh:mm."""

    name = "HH:MM"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> time:
        """The time of day; a usage error if it is none."""
        if isinstance(value, time):
            return value
        try:
            return datetime.strptime(value, "%H:%M").time()  # noqa: DTZ007  (a time of day only)
        except ValueError:
            self.fail(f"{value!r} is no time of day, expected one like 05:00", param, ctx)


def reads_a_folder(command: Command) -> Command:
    """The options of every command that reads a folder."""
    options = [
        click.option(
            "--from",
            "folder",
            metavar="FOLDER",
            type=click.Path(exists=True, file_okay=False, path_type=Path),
            help="Read plain files in a folder: pool.csv, cameras.csv, drives.csv, *.jsonl. "
            "Without it, the production's own data.",
        ),
        click.option(
            "--rule",
            type=RuleType(),
            help='With --from: backup rule, as in {"copies": 2, "level": "checksummed"}; '
            "without it the one set in the files, else three copies on two kinds of drive, one "
            "off site.",
        ),
        click.option(
            "--time-zone",
            "zone",
            type=ZoneType(),
            default="UTC",
            show_default=True,
            help="With --from: the production's time zone, as in Europe/Helsinki.",
        ),
        click.option(
            "--day-starts",
            type=ClockType(),
            default="05:00",
            show_default=True,
            help="With --from: when a shooting day starts, where nobody logged a call.",
        ),
        data_option,
        click.option("--json", "as_json", is_flag=True, help="For programs."),
    ]
    for option in reversed(options):
        command = option(command)
    return command


def read_production(
    folder: Path, rule: BackupRule | None, zone: ZoneInfo, day_starts: time
) -> Production:
    """Everything that a folder says, folded. Errors: BadInput, with every fault."""
    read = read_folder(folder)
    try:
        return fold_production(read.facts, rule=rule, zone=zone, day_starts=day_starts)
    except Misnamed as error:
        faults = []
        for fact_id, field, wrong in error.found:
            file, line = read.places[fact_id]
            faults.append(Fault(file, line, field, wrong.found, wrong.expected))
        raise BadInput(faults) from None
