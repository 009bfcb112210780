"""`cardwright clock`: the clock of the reminders by itself, without pages."""

from __future__ import annotations

import signal
from pathlib import Path
from threading import Event

import click

from tracker.bootstrap import opened, reminding
from tracker.cli.working import data_option
from tracker.config import settings

LOOK_EVERY_S = 1.0
"""On Windows a wait without end is not ended by Ctrl-C."""


@click.command()
@data_option
def clock(data: Path | None) -> int:
    """Remind people until it is told to stop (SIGTERM, or Ctrl-C).

    `serve` does it by itself; this is for where they run apart. Several at once do no harm.
    """
    told = Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told.set())
    given = settings(data)
    with opened(given) as service, reminding(service, given):
        click.echo("The clock runs. Ctrl-C stops it.")
        while not told.wait(LOOK_EVERY_S):
            pass
    click.echo("Stopped; what was being sent is sent.")
    return 0
