"""`cardwright erase`: free text and names of people of a fact go for good."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.bootstrap import opened
from tracker.cli.working import data_option
from tracker.config import settings
from tracker.services import erasing
from tracker.services.service import Who


@click.command()
@click.argument("fact")
@click.option("--reason", required=True, help="Why; it is kept. Do not repeat what is erased.")
@data_option
def erase(fact: str, reason: str, data: Path | None) -> int:
    """Erase the free text and the names of people of FACT, given by its id. Nothing undoes it.

    The fact stays, and the journal stays whole. Backups and exports made before keep the words.
    """
    with opened(settings(data)) as service:
        done = erasing.erase(service, Who(), fact, reason)
    click.echo(f"Erased: {', '.join(done.fields)}. The fact itself stays.")
    click.echo("Backups and exports made before still have the words: throw those away.")
    return 0
