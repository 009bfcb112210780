"""`cardwright audit`, `checkpoint` and `export`: the journal proved, and taken along."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from tracker.bootstrap import opened
from tracker.cli.working import busy, data_option, json_option
from tracker.config import settings
from tracker.operations.aside import aside
from tracker.services.auditing import Audit
from tracker.services.auditing import audit as look
from tracker.services.auditing import checkpoint as take_checkpoint
from tracker.services.auditing import rebuild as make_anew
from tracker.services.exporting import export as write
from tracker.wire.checkpoint import read_checkpoint, written

SHOWN = 20


@click.command()
@click.option("--rebuild", is_flag=True, help="Make all rows anew from a journal that is whole.")
@click.option(
    "--against",
    metavar="CHECKPOINT",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A checkpoint that was kept elsewhere: the journal must still hold all that it says.",
)
@data_option
@json_option
def audit(rebuild: bool, against: Path | None, data: Path | None, as_json: bool) -> int:
    """Verify the journal's chains, fold it anew, and compare every row with it."""
    kept = None if against is None else read_checkpoint(against.read_bytes(), against)
    with opened(settings(data)) as service, busy("Reading the journal"):
        changed = make_anew(service) if rebuild else None
        with aside(service) as whole:
            found = look(whole, kept)
    if as_json:
        told = {
            "sound": found.sound,
            "findings": [str(finding) for finding in found.findings],
            "differences": [str(one) for one in found.differences or ()],
            "changed": changed,
        }
        click.echo(json.dumps(told, ensure_ascii=False, indent=1))
    else:
        _tell(found, changed)
    return 0 if found.sound else 1


def _tell(found: Audit, changed: list[str] | None) -> None:
    if changed is not None:
        said = ", ".join(changed) or "none"
        click.echo(f"Rows made anew. Cards whose status or mishaps are others now: {said}.")
    for finding in found.findings[:SHOWN]:
        click.echo(f"Not whole: {finding}")
    for difference in (found.differences or ())[:SHOWN]:
        click.echo(f"Not as logged: {difference}")
    rest = len(found.findings) + len(found.differences or ()) - SHOWN
    if rest > 0:
        click.echo(f"... and {rest:,} more.")
    if found.sound:
        click.echo("The journal is whole, and every row follows from it.")
    elif found.findings:
        click.echo("Keep this database as it is, and restore a backup from before.")
    else:
        click.echo("The journal is whole. `cardwright audit --rebuild` makes the rows anew.")


@click.command()
@click.argument("to", required=False, type=click.Path(dir_okay=False, path_type=Path))
@data_option
@json_option
def checkpoint(to: Path | None, data: Path | None, as_json: bool) -> int:
    """Write down where every chain of the journal ends, in a new file TO.

    Chains prove nothing against one who can write the whole journal anew. A checkpoint that is
    kept elsewhere does: `audit --against` compares. Without TO only its root is shown.
    """
    given = settings(data)
    with busy("Reading the journal"), opened(given) as service, aside(service) as whole:
        made = take_checkpoint(whole)
    if to is not None:
        with to.open("xb") as file:
            file.write(written(made))
    if as_json:
        told = {"root": made.root, "facts": made.facts, "made_at": made.made_at.isoformat()}
        click.echo(json.dumps({**told, "file": None if to is None else str(to)}))
    else:
        where = "" if to is None else f" written to {to}"
        click.echo(f"Checkpoint of {made.facts:,} facts{where}. Root: {made.root}")
    return 0


@click.command()
@click.option("--form", type=click.Choice(["jsonl", "csv"]), default="jsonl", show_default=True)
@click.option(
    "--to", type=click.Path(dir_okay=False, path_type=Path), help="A file; else to the screen."
)
@data_option
def export(form: str, to: Path | None, data: Path | None) -> int:
    """Write every fact with all that the service knows of it, in the order of logging."""
    with opened(settings(data)) as service:
        if to is not None:
            with to.open("wb") as out:
                count = write(service, out, form=form)
            click.echo(f"{count:,} facts written to {to}.", err=True)
        else:
            write(service, sys.stdout.buffer, form=form)
    return 0
