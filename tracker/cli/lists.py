"""`cardwright cards|cameras|drives import`: a crew's lists."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.bootstrap import opened
from tracker.cli.working import (
    busy,
    data_option,
    dry_run_option,
    files_argument,
    json_option,
    tell,
    text_of,
)
from tracker.config import settings
from tracker.services.logging import said_in
from tracker.services.production import bring_in
from tracker.services.service import utc_now
from tracker.wire.inventory import CAMERAS, CARDS, DRIVES, Inventory, read_inventory


def _list(name: str, inventory: Inventory, what: str) -> click.Group:
    group = click.Group(name, help=f"The {what} of the production.")

    @group.command("import")
    @files_argument
    @dry_run_option
    @data_option
    @json_option
    def bring(files: tuple[Path, ...], dry_run: bool, data: Path | None, as_json: bool) -> int:
        rows = [read_inventory(inventory, text_of(f), f.name, utc_now()) for f in files]
        with opened(settings(data)) as service, busy(f"Taking in {what}"):
            logged = bring_in(service, said_in(rows), dry_run=dry_run)
        tell(logged, as_json=as_json, dry_run=dry_run)
        return 0

    bring.help = f"Take in a list of {what} (CSV or XLSX); those known stay as they are."
    return group


cards = _list("cards", CARDS, "cards")
cameras = _list("cameras", CAMERAS, "cameras")
drives = _list("drives", DRIVES, "drives")
