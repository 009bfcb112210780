"""`cardwright figures`: every figure as a file that opens without the service."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.bootstrap import opened
from tracker.cli.working import busy, data_option
from tracker.config import settings
from tracker.reports.figure_files import write_figures
from tracker.reports.figures import all_figures
from tracker.services.production import about


@click.command()
@click.option(
    "--to",
    "folder",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="The folder to write them to; it is made if it is not there.",
)
@data_option
def figures(folder: Path, data: Path | None) -> int:
    """Write every figure as a page with its numbers (CSV), to be opened anywhere."""
    with opened(settings(data)) as service, busy("Drawing figures"):
        written = write_figures(all_figures(service), folder, about(service).name)
    click.echo(f"Wrote {len(written)} files to {folder}: open {written[0]}")
    return 0
