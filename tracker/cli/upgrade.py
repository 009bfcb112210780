"""`cardwright upgrade`: the data of an older version, brought to this one."""

from __future__ import annotations

import json
from pathlib import Path

import click

from tracker.bootstrap import opened
from tracker.cli.working import busy, data_option, json_option
from tracker.config import settings
from tracker.operations.holding import file_of
from tracker.operations.notes import last
from tracker.operations.upgrade import Upgraded, needed_at, try_upgrading
from tracker.services.service import utc_now


@click.command()
@click.option("--check", is_flag=True, help="Try it on a copy, and change nothing.")
@data_option
@json_option
def upgrade(check: bool, data: Path | None, as_json: bool) -> int:
    """Bring data of an older version to this one; any command that opens it does so, too.

    A verified copy is migrated and takes the place of the file, which is kept. Whatever fails,
    nothing is changed. With --check the exit code is 1 where an upgrade is needed.
    """
    given = settings(data)
    file = file_of(given.address)
    begun = utc_now()
    if check:
        with busy("Trying it on a copy"):
            found = needed_at(given.address) if file is None else try_upgrading(file)
        _tell(found, "An upgrade would work.", as_json=as_json)
        return 0 if found is None else 1
    with busy("Upgrading"), opened(given):
        pass
    done = last(given.folder, "upgrade")
    said = done.says if done is not None and done.at >= begun else None
    if as_json:
        click.echo(json.dumps({"upgraded": said is not None, "says": said}))
    else:
        click.echo(said or "The data is of this version already.")
    return 0


def _tell(found: Upgraded | None, said: str, *, as_json: bool) -> None:
    if as_json:
        told = None
        if found is not None:
            told = {"from": found.before, "to": found.after, "changed": list(found.changed)}
        click.echo(json.dumps({"needed": told is not None, "upgrade": told}))
    else:
        click.echo("The data is of this version already." if found is None else f"{said} {found}")
