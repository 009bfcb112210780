"""`cardwright serve`: the service over HTTP, for programs and phones."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path

import click

from tracker.bootstrap import opened, reminding, web_app
from tracker.cli.working import data_option
from tracker.config import settings
from tracker.web.serving import serve as serve_app


@click.command()
@data_option
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen on.")
@click.option(
    "--port",
    default=8642,
    show_default=True,
    type=click.IntRange(0, 65_535),
    help="The port to listen on; 0 takes any that is free.",
)
@click.option(
    "--no-clock", is_flag=True, help="Send no reminders from here; `cardwright clock` does it."
)
def serve(data: Path | None, host: str, port: int, no_clock: bool) -> int:
    """Serve the production, and remind, until it is told to stop (SIGTERM, or Ctrl-C)."""

    def ready(port: int) -> None:
        click.echo(f"Serving on http://{host}:{port}. Ctrl-C stops it.")

    given = settings(data)
    with (
        opened(given) as service,
        nullcontext() if no_clock else reminding(service, given),
    ):
        serve_app(web_app(service, given=given), host, port, ready=ready)
    click.echo("Stopped; everything that was being logged is logged.")
    return 0
