"""`cardwright doctor`: what keeps the data safe, and what does not."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import click

from tracker.cli.working import data_option, json_option
from tracker.config import settings
from tracker.operations.doctor import Check, examine
from tracker.services.service import utc_now

MARKS = {"fine": "fine   ", "warning": "WARNING", "danger": "DANGER ", "unknown": "unknown"}


@click.command()
@data_option
@json_option
def doctor(data: Path | None, as_json: bool) -> int:
    """Look at what keeps the data safe: the database, disk, clock, backups; changes nothing.

    Exit code 1 where danger is found; warnings alone are 0.
    """
    checks = examine(settings(data), utc_now())
    danger = any(check.verdict == "danger" for check in checks)
    if as_json:
        told = {"danger": danger, "checks": [asdict(check) for check in checks]}
        click.echo(json.dumps(told, ensure_ascii=False, indent=1))
    else:
        for check in checks:
            click.echo(_line(check))
    return 1 if danger else 0


def _line(check: Check) -> str:
    to_do = f"\n         {check.to_do}" if check.to_do else ""
    return f"{MARKS[check.verdict]}  {check.name}: {check.says}{to_do}"
