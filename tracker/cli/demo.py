"""`cardwright demo`: an invented production, written as files, and what it needs now."""

from __future__ import annotations

import json
import tempfile
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import click

import seed_demo
from tracker.cli.now import show_now
from tracker.cli.reading import read_production
from tracker.domain.rule import BackupRule


@click.command()
@click.option(
    "--to",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder to write to; without it a new one under the temporary directory.",
)
def demo(folder: Path | None) -> int:
    """Write an invented production as files, and say what it needs now."""
    where = folder or Path(tempfile.mkdtemp(prefix="cardwright-demo-"))
    where.mkdir(parents=True, exist_ok=True)
    seed_demo.write(where)
    about = seed_demo.ABOUT
    click.echo(f"{about['name']}, an invented production, stands in {where}\n")
    zone = ZoneInfo(about["time_zone"])
    rule = BackupRule(**about["rule"])
    production = read_production(where, rule, zone, time.fromisoformat(about["day_starts"]))
    show_now(production, as_json=False)
    click.echo(
        "\nLook further:\n"
        f"  cardwright now --from {where} --time-zone {about['time_zone']} "
        f"--rule '{json.dumps(about['rule'])}'\n"
        f"  cardwright card LABEL --from {where}"
    )
    return 0
