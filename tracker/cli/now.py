"""`cardwright now`: what each card needs next, what is in danger first."""

from __future__ import annotations

import json
from datetime import time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from tracker.bootstrap import opened
from tracker.cli.reading import read_production, reads_a_folder
from tracker.config import settings
from tracker.domain.dangers import Danger, dangers
from tracker.domain.doubts import Doubt, doubts, labels_out
from tracker.domain.fold import Production
from tracker.domain.needs import Need, needs
from tracker.domain.rule import BackupRule, in_words
from tracker.domain.sizes import show_bytes
from tracker.domain.status import CardView
from tracker.domain.words import FORMAT_WORDS
from tracker.services import looking


@click.command()
@reads_a_folder
def now(
    folder: Path | None,
    rule: BackupRule | None,
    zone: ZoneInfo,
    day_starts: time,
    data: Path | None,
    as_json: bool,
) -> int:
    """Say what each card needs next, what is in danger first.

    The camera maker's manual, the insurer and the production's own rules come first.
    """
    if folder is not None:
        return show_now(read_production(folder, rule, zone, day_starts), as_json=as_json)
    with opened(settings(data)) as service:
        if as_json:
            told = looking.now_for_programs(service)
            click.echo(json.dumps(told, ensure_ascii=False, indent=1))
            dangers_found = any(m["severity"] == "danger" for m in told["mishaps"])
            return 1 if dangers_found or looking.any_gone(service) else 0
        return show_now(looking.whole_production(service), as_json=False)


def show_now(production: Production, *, as_json: bool) -> int:
    """Print what is true; the exit code: 1 where danger is found, else 0."""
    cards = production.views()
    if as_json:
        click.echo(json.dumps(now_for_programs(production, cards), ensure_ascii=False, indent=1))
    else:
        _print(production, cards)
    return 1 if any(card.in_danger for card in cards) else 0


def now_for_programs(production: Production, cards: list[CardView]) -> dict[str, Any]:
    """What is true, as JSON: bytes as integers, names as people know them, null is unknown."""
    context = production.context
    doubtful = doubts(production, cards)
    found = needs(cards, context, labels_out(doubtful))
    by_label = {n.card.state.card_id: n for n in found}
    return {
        "cards": [
            {
                "label": card.label,
                "status": card.status,
                "camera": card.camera,
                "holds": [roll.name for roll in card.holds],
                "uncovered": [roll.name for roll in card.uncovered],
                "cycles": card.cycles,
                "bytes_logged": card.bytes_logged,
                "who": by_label[card.state.card_id].who,
                "next": by_label[card.state.card_id].what,
                "may_format": by_label[card.state.card_id].may_format,
            }
            for card in cards
        ],
        "mishaps": sorted(
            (
                {
                    "card": card.label,
                    "kind": mishap.key.kind,
                    "roll": _roll_name(card, mishap.key.roll),
                    "severity": mishap.severity,
                    "drive": mishap.key.drive,
                    "fact": mishap.key.fact,
                    "to_do": mishap.kind.to_do,
                }
                for card in cards
                for mishap in card.mishaps
            ),
            key=lambda m: (str(m["card"]), str(m["kind"]), m["roll"] or "", str(m["fact"])),
        ),
        "rolls_below_rule": sorted(roll.name for card in cards for roll in card.below),
        "doubts": [
            {"kind": d.kind, "cards": list(d.cards), "rolls": list(d.rolls), "says": d.says}
            for d in doubtful
        ],
        "rule": {
            "copies": context.rules.main.copies,
            "level": context.rules.main.level,
            "kinds": context.rules.main.kinds,
            "off_site": context.rules.main.off_site,
            "receipt": context.rules.main.receipt,
            "hold_days": context.rules.main.hold_days,
        },
        "time_zone": str(context.zone),
        "day_starts": f"{context.day_starts:%H:%M}",
    }


def _roll_name(card: CardView, roll_id: str | None) -> str | None:
    return None if roll_id is None else card.state.rolls[roll_id].name


def console() -> Console:
    """A console for people; plain, and wide enough for a table, where it is no terminal."""
    screen = Console(highlight=False)
    return screen if screen.is_terminal else Console(highlight=False, width=132)


def _print(production: Production, cards: list[CardView]) -> None:
    screen = console()
    facts = {fact.id: fact for of_card in production.facts.values() for fact in of_card}
    found = dangers(cards, facts)
    _print_dangers(screen, production, found)
    doubtful = doubts(production, cards)
    _print_doubts(screen, doubtful)
    _print_cards(screen, needs(cards, production.context, labels_out(doubtful)))
    _print_end(screen, production, cards)


def _table(title: str, *columns: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=SIMPLE_HEAD)
    for name in columns:
        table.add_column(name, overflow="fold")
    return table


def _print_dangers(screen: Console, production: Production, found: list[Danger]) -> None:
    if not found:
        screen.print("No danger found.\n")
        return
    table = _table(
        f"Danger: {len(found)}", "Card", "Roll", "When", "What happened", "What to do now"
    )
    for danger in found:
        when = danger.at[0].astimezone(production.context.zone)
        table.add_row(
            danger.card,
            danger.roll or "",
            f"{when:%Y-%m-%d %H:%M}",
            danger.says,
            danger.to_do,
            style="bold" if danger.rank == 0 else None,
        )
    screen.print(table)
    screen.print()


def _print_doubts(screen: Console, found: list[Doubt]) -> None:
    if not found:
        return
    table = _table(f"Doubts: {len(found)}", "Doubt", "What the facts say", "What to do")
    for doubt in found:
        table.add_row(doubt.kind, doubt.says, doubt.to_do)
    screen.print(table)
    screen.print()


def _print_cards(screen: Console, found: list[Need]) -> None:
    columns = ("Card", "Status", "Holds", "Format?", "What it needs next", "Who")
    table = _table(f"Cards: {len(found)}", *columns)
    for n in found:
        holds = ", ".join(roll.name + ("?" if roll.guessed else "") for roll in n.card.holds)
        table.add_row(
            n.card.label,
            n.card.status,
            holds,
            FORMAT_WORDS[n.may_format],
            n.what,
            n.who,
            style="bold" if n.rank <= 1 else None,
        )
    screen.print(table)
    screen.print()


def _print_end(screen: Console, production: Production, cards: list[CardView]) -> None:
    others = [m for card in cards for m in card.mishaps if m.severity != "danger"]
    if others:
        count = "1 warning or note" if len(others) == 1 else f"{len(others)} warnings and notes"
        screen.print(f"{count} besides: `cardwright card LABEL` tells a card's history.")
    below = [roll.name for card in cards for roll in card.below]
    if below:
        screen.print(f"Rolls below the backup rule: {', '.join(sorted(below))}.")
    logged = show_bytes(sum(card.bytes_logged for card in cards))
    screen.print(f"Rule: {in_words(production.context.rules.main)}. Logged in all: {logged}.")
    screen.print(
        "What the facts say is not what is on the card: look before you format, and format only "
        "in the camera. The camera's manual and the production's own rules come first."
    )
