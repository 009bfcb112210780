"""`cardwright demo`: an invented production, served to look at; nothing of it is left behind."""

from __future__ import annotations

import json
import secrets
import tempfile
import time as timing
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import click

import seed_demo
from tracker.bootstrap import opened, reminding_here, web_app
from tracker.cli.now import show_now
from tracker.cli.reading import read_production
from tracker.cli.working import facts_in
from tracker.config import Setting, Settings
from tracker.domain.rule import BackupRule
from tracker.services import acts_drive, people
from tracker.services.logging import log_history, said_in
from tracker.services.production import bring_in, set_up
from tracker.services.service import Service, Who
from tracker.web.serving import serve
from tracker.wire.inventory import CAMERAS, CARDS, DRIVES, read_inventory

PORT = 8642


@click.command()
@click.option(
    "--to",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Only write it to this folder, as the files that its crew would have kept.",
)
@click.option(
    "--port",
    type=click.IntRange(0, 65_535),
    help=f"The port to listen on; without it {PORT}, or any that is free.",
)
def demo(folder: Path | None, port: int | None) -> int:
    """Serve an invented production on 127.0.0.1, with a link to sign in for each role."""
    if folder is not None:
        return _write(folder)
    scratch = tempfile.TemporaryDirectory(prefix="cardwright-demo-")
    with scratch as where, _production(Path(where)) as service:
        words = {role: secrets.token_urlsafe(16) for role in seed_demo.PEOPLE}
        entrances = {
            words[role]: people.let_in(service, name, role, "the demo's link")
            for role, name in seed_demo.PEOPLE.items()
        }
        app = web_app(service, entrances)
        with reminding_here(service):
            try:
                serve(app, "127.0.0.1", PORT if port is None else port, ready=_tell(words))
            except OSError:
                if port is not None:
                    raise
                serve(app, "127.0.0.1", 0, ready=_tell(words))
    click.echo("Stopped. Nothing of the demo is left behind.")
    return 0


def _tell(words: Mapping[str, str]) -> Callable[[int], None]:
    """Says where it is served, and by which link each role comes in."""

    def ready(port: int) -> None:
        address = f"http://127.0.0.1:{port}"
        name = seed_demo.ABOUT["name"]
        click.echo(f"{name}, an invented production, is served on {address}")
        click.echo("Come in as")
        for role, person in seed_demo.PEOPLE.items():
            click.echo(f"  {role + ', ' + person:26} {address}/come-in/{words[role]}")
        click.echo("Ctrl-C stops it, and leaves nothing behind.")

    return ready


@contextmanager
def _production(scratch: Path) -> Iterator[Service]:
    """The production in a folder, under a clock that goes on from where its story stops."""
    files = scratch / "files"
    seed_demo.write(files)
    about = seed_demo.ABOUT
    stops = datetime.fromisoformat(about["now"]).astimezone(UTC)
    began = timing.monotonic()
    data = Setting(str(scratch / "data"), "the demo")
    with opened(Settings(data), new=True) as service:
        service.clock = lambda: stops + timedelta(seconds=timing.monotonic() - began)
        day_starts = time.fromisoformat(about["day_starts"])
        rule = BackupRule(**about["rule"])
        set_up(service, about["name"], ZoneInfo(about["time_zone"]), day_starts, rule)
        lists = (("pool", CARDS), ("cameras", CAMERAS), ("drives", DRIVES))
        for name, kind in lists:
            table = (files / f"{name}.csv").read_bytes()
            bring_in(service, said_in([read_inventory(kind, table, name, stops)]))
        weeks = [facts_in(week) for week in sorted(files.glob("*.jsonl"))]
        log_history(service, said_in(weeks))
        acts_drive.set_todays_drives(service, Who(), seed_demo.TODAYS_DRIVES)
        yield service


def _write(folder: Path) -> int:
    folder.mkdir(parents=True, exist_ok=True)
    seed_demo.write(folder)
    about = seed_demo.ABOUT
    click.echo(f"{about['name']}, an invented production, stands in {folder}\n")
    zone = ZoneInfo(about["time_zone"])
    rule = BackupRule(**about["rule"])
    production = read_production(folder, rule, zone, time.fromisoformat(about["day_starts"]))
    show_now(production, as_json=False)
    click.echo(
        "\nLook further:\n"
        f"  cardwright now --from {folder} --time-zone {about['time_zone']} "
        f"--rule '{json.dumps(about['rule'])}'\n"
        f"  cardwright card LABEL --from {folder}"
    )
    return 0
