"""`cardwright backup`, `restore` and `restore-test`: kept elsewhere, and proved to come back."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import click

from tracker.bootstrap import opened
from tracker.cli.working import busy, data_option, json_option
from tracker.config import Settings, settings
from tracker.operations.backup import FOLDER, SUFFIX, back_up
from tracker.operations.errors import BadBackup
from tracker.operations.files import same_disk
from tracker.operations.manifest import Manifest
from tracker.operations.notes import Note, add, last, note
from tracker.operations.restore import restore as put_back
from tracker.operations.restore import try_restoring
from tracker.services.service import utc_now


@click.command()
@click.argument("to", required=False, type=click.Path(path_type=Path))
@data_option
@json_option
def backup(to: Path | None, data: Path | None, as_json: bool) -> int:
    """Make a backup, verified, in the folder TO, or in a new file TO that ends in .zip.

    People may go on working. The folder TO must be there, best on another disk. Without TO it
    goes into the data folder.
    """
    given = settings(data)
    with opened(given) as service, busy("Making a backup"):
        if to is None:
            to = given.folder / FOLDER
            to.mkdir(mode=0o700, exist_ok=True)
        made = back_up(service, to)
    file = made.file.resolve()
    same = same_disk(file, given.folder)
    note(given.folder, _in_words(made.manifest), "backup", made.manifest.made_at, file=file)
    if as_json:
        click.echo(
            json.dumps(
                {"file": str(file), "bytes": made.bytes, "same_disk": same, **_told(made.manifest)}
            )
        )
    else:
        click.echo(f"Backup of {_in_words(made.manifest)}, {made.bytes / 1e6:,.1f} MB: {file}")
        click.echo(f"Root of its checkpoint: {made.manifest.root}")
        if same:
            click.echo("It lies on the same disk as the data: copy it to another one.")
    return 0


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@data_option
@json_option
def restore(file: Path, data: Path | None, as_json: bool) -> int:
    """Put the backup FILE in the place of the data; what was there is kept under another name.

    It is verified first. Nobody may be working on the data.
    """
    given = settings(data)
    with busy("Restoring"):
        given.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        done = put_back(given.address, file)
    note(given.folder, _in_words(done.manifest), "restore", utc_now(), file=file.resolve())
    if as_json:
        told = {"kept": done.kept, "changed": list(done.changed), **_told(done.manifest)}
        click.echo(json.dumps(told))
        return 0
    click.echo(f"Restored: {_in_words(done.manifest)}.")
    if done.kept is not None:
        click.echo(f"What was there is kept: {done.kept}")
    if done.changed:
        click.echo(f"Cards whose status or mishaps are others now: {', '.join(done.changed)}.")
    click.echo(
        "What was logged since that backup is not in it. Whoever was taken off the list of people "
        "since, or signed out, is on it again: look at People."
    )
    return 0


@click.command("restore-test")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@data_option
@json_option
def restore_test(file: Path | None, data: Path | None, as_json: bool) -> int:
    """Restore a backup into a scratch place, compare it, and throw it away again.

    Without FILE the newest one that is known. Nothing is changed. Do it once a week.
    """
    given = settings(data)
    found = _newest(given) if file is None else file
    with opened(given) as service, _noted(given, found), busy("Restoring into a scratch place"):
        tried = try_restoring(service, given.address, found)
    said = _in_words(tried.manifest)
    note(given.folder, said, "restore-test", utc_now(), file=found.resolve())
    if as_json:
        told = {"file": str(found), "compared": list(tried.compared), **_told(tried.manifest)}
        click.echo(json.dumps(told))
    else:
        click.echo(f"{found} can be restored: {said}. Compared, and the same:")
        for one in tried.compared:
            click.echo(f"  - {one}")
    return 0


@contextmanager
def _noted(given: Settings, file: Path) -> Iterator[None]:
    """A backup that cannot be restored is remembered as such."""
    try:
        yield
    except BadBackup as error:
        add(given.folder, Note(utc_now(), "restore-test", str(file), False, str(error)))
        raise


def _newest(given: Settings) -> Path:
    """The newest backup that is known and there. Errors: UsageError."""
    known = last(given.folder, "backup")
    noted = [] if known is None else [Path(known.file)]
    there = [one for one in noted if one.is_file()]
    there += (given.folder / FOLDER).glob(f"*{SUFFIX}")
    if not there:
        raise click.UsageError("No backup is known here: give the file of one, or make one first.")
    return max(there, key=lambda one: one.stat().st_mtime)


def _told(manifest: Manifest) -> dict[str, object]:
    return {
        "production": manifest.production,
        "made_at": manifest.made_at.isoformat(),
        "facts": manifest.facts,
        "root": manifest.root,
    }


def _in_words(manifest: Manifest) -> str:
    return f"{manifest.production}, {manifest.facts:,} facts, as of {_when(manifest.made_at)}"


def _when(at: datetime) -> str:
    return f"{at.astimezone():%Y-%m-%d %H:%M:%S %Z}"
