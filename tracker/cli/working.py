"""Options and helpers of the commands that work on a production's data."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import click
from rich.console import Console
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from tracker.services.logging import Logged
from tracker.wire.jsonlines import read_json_lines
from tracker.wire.rows import Rows
from tracker.wire.table import read_csv_lines
from tracker.wire.workbook import is_workbook, sheet_as_csv

Command = TypeVar("Command", bound=Callable[..., Any])

data_option = click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder of this production; without it CARDWRIGHT_DATA says.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="For programs.")
dry_run_option = click.option("--dry-run", is_flag=True, help="Try it, and keep nothing.")
files_argument = click.argument(
    "files",
    nargs=-1,
    required=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
)


@contextmanager
def busy(with_what: str) -> Iterator[None]:
    """Show on a terminal that long work goes on; elsewhere nothing is said of it."""
    screen = Console(stderr=True, highlight=False)
    if not screen.is_terminal:
        yield
        return
    with Progress(
        SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn(), console=screen,
        transient=True,
    ) as progress:  # fmt: skip
        progress.add_task(with_what, total=None)
        yield


def text_of(file: Path) -> bytes:
    """A list as bytes of CSV; a workbook's first sheet is made into that."""
    data = file.read_bytes()
    if is_workbook(file.name):
        return sheet_as_csv(data, file.name).encode()
    return data


def facts_in(file: Path) -> Rows:
    """The facts of a file: JSON Lines, CSV or XLSX, by its name."""
    if file.suffix.lower() in (".csv", ".xlsx"):
        return read_csv_lines(text_of(file), file.name)
    return read_json_lines(file.read_bytes(), file.name)


def tell(logged: Logged, *, as_json: bool, dry_run: bool) -> None:
    """Say what came of logging."""
    if as_json:
        told = {
            "logged": len(logged.new),
            "again": len(logged.again),
            "notices": logged.notices,
            "dry_run": dry_run,
        }
        click.echo(json.dumps(told, ensure_ascii=False))
        return
    would = "would be logged" if dry_run else "logged"
    count = len(logged.new)
    click.echo(f"{count:,} {'fact' if count == 1 else 'facts'} {would}.")
    if logged.again:
        click.echo(f"{len(logged.again):,} said before; they change nothing.")
    for notice in logged.notices:
        click.echo(notice)
