"""`cardwright set-up` and `cardwright token`: the first person, and a way in for a program.

Whoever can read the data folder is trusted with it: these commands ask for no sign-in.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import get_args

import click

from tracker.bootstrap import opened
from tracker.cli.working import data_option
from tracker.config import settings
from tracker.services import people


@click.command("set-up")
@click.argument("link")
@click.option("--name", required=True, help="Your name.")
@click.password_option("--passphrase", help="Ten characters or more; asked for if not given.")
@data_option
def set_up(link: str, name: str, passphrase: str, data: Path | None) -> int:
    """Make the administrator by the one-time LINK that `init` printed."""
    token = link.rpartition("/")[2]
    with opened(settings(data)) as service:
        people.set_up_first(service, token, name, passphrase, agent="command line")
    click.echo(f"{name} is the administrator.")
    return 0


@click.command()
@click.argument("program")
@click.option("--person", required=True, help="For whom it acts: the name of somebody here.")
@click.option("--scope", type=click.Choice(get_args(people.Scope)), default="look")
@click.option("--days", type=click.IntRange(1, 3650), help="How long; without it, until revoked.")
@data_option
def token(
    program: str, person: str, scope: people.Scope, days: int | None, data: Path | None
) -> int:
    """Make a token by which PROGRAM acts for a person. It is shown once."""
    with opened(settings(data)) as service:
        until = None if days is None else service.clock() + timedelta(days=days)
        here = people.person_called(service, person)
        click.echo(people.make_token(service, here, program, scope, until))
    return 0
