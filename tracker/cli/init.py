"""`cardwright init`: a new production, with its backup rule."""

from __future__ import annotations

import json
from datetime import time
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

import click

from tracker.bootstrap import opened
from tracker.cli.reading import ClockType, ZoneType
from tracker.cli.working import data_option, json_option
from tracker.config import settings
from tracker.domain.facts import Level
from tracker.domain.rule import RECOMMENDED, SHORT_POOL, BackupRule, in_words
from tracker.services.production import set_up

IN_WORDS = {"three-copies": RECOMMENDED, "two-copies": SHORT_POOL}


@click.command()
@click.option("--production", required=True, help="The production's name.")
@click.option("--time-zone", "zone", type=ZoneType(), required=True, help="As Europe/Helsinki.")
@click.option("--day-starts", type=ClockType(), default="05:00", show_default=True)
@click.option(
    "--backup-rule",
    type=click.Choice(list(IN_WORDS)),
    help="three-copies (recommended): three copies, two kinds of drive, one off site, before a "
    "card is formatted. two-copies (short pool): two copies on two drives, the third off site "
    "within a day. Both checksummed.",
)
@click.option("--copies", type=click.IntRange(1, 100), help="A rule of your own: how many copies.")
@click.option("--level", type=click.Choice(get_args(Level)), help="How they must be checked.")
@click.option("--kinds", type=click.IntRange(1, 5), help="On how many kinds of drive.")
@click.option("--off-site", type=click.IntRange(0, 100), help="How many of them off site.")
@click.option("--receipt", is_flag=True, help="Post must have received it as good.")
@click.option("--hold-days", type=click.IntRange(0, 3650), help="Days kept on the card.")
@data_option
@json_option
def init(
    production: str,
    zone: ZoneInfo,
    day_starts: time,
    backup_rule: str | None,
    copies: int | None,
    level: Level | None,
    kinds: int | None,
    off_site: int | None,
    receipt: bool,
    hold_days: int | None,
    data: Path | None,
    as_json: bool,
) -> int:
    """Begin a production in a folder."""
    rule = IN_WORDS[backup_rule or "three-copies"]
    own = (copies, level, kinds, off_site, receipt or None, hold_days)
    if any(value is not None for value in own):
        if backup_rule is not None:
            raise click.UsageError("either --backup-rule, or a rule of your own")
        if copies is None:
            raise click.UsageError("a rule of your own needs --copies")
        rule = BackupRule(
            copies, level or "checksummed", kinds or 1, off_site or 0, receipt, hold_days or 0
        )
    with opened(settings(data), new=True) as service:
        done = set_up(service, production, zone, day_starts, rule)
    if as_json:
        told = {"production": done.name, "set_up_token": done.token, "rule": in_words(rule)}
        click.echo(json.dumps(told, ensure_ascii=False))
    else:
        click.echo(f"{done.name} is ready. Rule: {in_words(rule)}.")
        click.echo(
            "To set up its people, once, before "
            f"{done.until.astimezone(zone):%Y-%m-%d %H:%M}: /set-up/{done.token}"
        )
    return 0
