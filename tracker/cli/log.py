"""`cardwright log`: facts from files, all of them or none."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.bootstrap import opened
from tracker.cli.working import (
    busy,
    data_option,
    dry_run_option,
    facts_in,
    files_argument,
    json_option,
    tell,
)
from tracker.config import settings
from tracker.services.logging import log_history, log_live, said_in


@click.command()
@files_argument
@click.option(
    "--history",
    is_flag=True,
    help="Last week's paper log or another system's export: taken as fact, clearings included.",
)
@dry_run_option
@data_option
@json_option
def log(
    files: tuple[Path, ...], history: bool, dry_run: bool, data: Path | None, as_json: bool
) -> int:
    """Log the facts of files (JSON Lines, CSV, XLSX): all of them, or none.

    Without --history a `cleared` asks for permission as it does on a page.
    """
    said = said_in(facts_in(file) for file in files)
    with opened(settings(data)) as service, busy(f"Logging {len(said):,} facts"):
        if history:
            logged = log_history(service, said, dry_run=dry_run)
        else:
            logged = log_live(service, said, dry_run=dry_run)
    tell(logged, as_json=as_json, dry_run=dry_run)
    return 0
