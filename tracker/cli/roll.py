"""`cardwright roll NAME` and `cardwright drive LABEL`: where a roll is, what is on a drive."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
from rich.markup import escape

from tracker.bootstrap import opened
from tracker.cli.now import console
from tracker.cli.working import data_option, json_option
from tracker.config import settings
from tracker.domain.errors import UnknownLabel
from tracker.domain.sizes import show_bytes
from tracker.services.looking import one_drive, rolls_by_name


@click.command()
@click.argument("name")
@data_option
@json_option
def roll(name: str, data: Path | None, as_json: bool) -> int:
    """Say where a roll is: its card, its copies, and whether it meets the backup rule."""
    with opened(settings(data)) as service:
        try:
            found = rolls_by_name(service, name)
        except UnknownLabel as error:
            raise click.UsageError(str(error)) from None
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
    else:
        for one in found:
            _print_roll(one)
    return 0


def _print_roll(one: dict[str, Any]) -> None:
    screen = console()
    where = f"on card {one['card']}" if one["on_card"] else f"no longer on card {one['card']}"
    said = "meets the backup rule" if one["covered"] else "is below the backup rule"
    said = "is still in the camera" if not one["closed"] else said
    said = "need not be kept" if not one["owes"] else said
    size = "" if one["bytes"] is None else f", {show_bytes(one['bytes'])}"
    screen.print(f"[bold]{escape(one['roll'])}[/bold]{size}: {where}; it {said}.")
    for copy in one["copies"]:
        holder = f", with {copy['holder']}" if copy["holder"] else ""
        counts = "" if copy["counts"] else " (does not count)"
        line = f"  {copy['drive']}: {copy['level']}, {copy['place']}{holder}{counts}"
        screen.print(line, markup=False)
    if not one["copies"]:
        screen.print("  No copy is finished.")


@click.command()
@click.argument("label")
@data_option
@json_option
def drive(label: str, data: Path | None, as_json: bool) -> int:
    """Say where a drive is, and which rolls are on it."""
    with opened(settings(data)) as service:
        try:
            found = one_drive(service, label)
        except UnknownLabel as error:
            raise click.UsageError(str(error)) from None
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
        return 0
    screen = console()
    state = next((word for word in ("lost", "failed", "returned") if found[word]), found["place"])
    holder = f", with {found['holder']}" if found["holder"] else ""
    head = f"[bold]{escape(found['drive'])}[/bold]: {found['kind']}, {state}{escape(holder)}"
    used, size = show_bytes(found["bytes"]), show_bytes(found["capacity_bytes"])
    screen.print(f"{head}. {used} of {size} logged on it.")
    for one in found["rolls"]:
        said = "" if one["covered"] else ", below the backup rule"
        screen.print(f"  {one['roll']} ({one['card']}): {one['level']}{said}", markup=False)
    return 0
