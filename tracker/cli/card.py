"""`cardwright card LABEL`: one card, and its history in sentences."""

from __future__ import annotations

import json
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import click
from rich.console import Console
from rich.markup import escape

from tracker.bootstrap import opened
from tracker.cli.now import console
from tracker.cli.reading import read_production, reads_a_folder
from tracker.config import settings
from tracker.domain.card import CardState
from tracker.domain.doubts import doubts, labels_out
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import END, LEVELS, CardFact, Registered, moment
from tracker.domain.fitness import fitness
from tracker.domain.fold import Production, in_order
from tracker.domain.needs import needs
from tracker.domain.rolls import Roll
from tracker.domain.rule import BackupRule, counting, in_words
from tracker.domain.sizes import show_bytes
from tracker.domain.status import CardView, view
from tracker.domain.words import FORMAT_WORDS
from tracker.services.looking import one_card, probably_out_now
from tracker.services.telling import card_for_programs, history


@click.command()
@click.argument("label")
@reads_a_folder
def card(
    label: str,
    folder: Path | None,
    rule: BackupRule | None,
    zone: ZoneInfo,
    day_starts: time,
    data: Path | None,
    as_json: bool,
) -> int:
    """Tell one card's history in sentences, and what stands."""
    try:
        if folder is not None:
            production, state = _from_files(folder, rule, zone, day_starts, label)
            out = labels_out(doubts(production, production.views()))
        else:
            with opened(settings(data)) as service:
                production, state = one_card(service, label)
                out = probably_out_now(service)
    except UnknownLabel as error:
        raise click.UsageError(str(error)) from None
    shown = view(state, production.context)
    if as_json:
        told = card_for_programs(production, shown, out)
        click.echo(json.dumps(told, ensure_ascii=False, indent=1))
    else:
        _print(production, shown, label, out)
    return 1 if shown.in_danger else 0


def _from_files(
    folder: Path, rule: BackupRule | None, zone: ZoneInfo, day_starts: time, label: str
) -> tuple[Production, CardState]:
    """The card that has a label, or had it. Errors: UnknownLabel."""
    production = read_production(folder, rule, zone, day_starts)
    states = [s for s in production.cards.values() if label in s.labels]
    if not states:
        known = [state.label for state in production.cards.values()]
        raise UnknownLabel("card", label, known)
    return production, min(states, key=lambda s: (s.label != label, s.card_id))


def _print(production: Production, shown: CardView, asked: str, out: set[str]) -> None:
    screen = console()
    (told,) = needs([shown], production.context, out)
    word = FORMAT_WORDS[told.may_format]
    screen.print(f"[bold]{escape(shown.label)}[/bold]: {shown.status}. {word}".rstrip())
    if asked != shown.label:
        screen.print(f"It was called {escape(asked)} before.")
    registered = shown.state.registered
    if registered is not None:
        screen.print(_what_it_is(registered))
    fit = fitness(shown.state)
    if fit.verdict in ("watch", "failing"):
        screen.print(f"{fit.verdict.capitalize()}: {'; '.join(fit.reasons)}.", markup=False)
    screen.print(f"Next ({told.who}): {escape(told.what)}")
    for roll in shown.holds:
        screen.print(_roll(production, roll), markup=False)
    _print_mishaps(screen, shown)
    screen.print("\n[bold]History[/bold]")
    for entry, fact in zip(
        history(production, shown), in_order(list(_facts(production, shown))), strict=True
    ):
        when = moment(fact)[0].astimezone(production.context.zone)
        back = "  (taken back)" if entry["voided_by"] else ""
        screen.print(f"  {when:%Y-%m-%d %H:%M}  {entry['says']}{back}", markup=False)
        for says in entry["mishaps"]:
            screen.print(f"                    ! {says}", markup=False)


def _facts(production: Production, shown: CardView) -> list[CardFact]:
    return list(production.facts[shown.state.card_id])


def _what_it_is(registered: Registered) -> str:
    parts = [registered.media, show_bytes(registered.capacity_bytes)]
    parts += [registered.maker_model] if registered.maker_model else []
    parts += [f"serial {registered.serial}"] if registered.serial else []
    parts += [f"owner {registered.owner}"] if registered.owner else []
    return escape(", ".join(parts) + ".")


def _roll(production: Production, roll: Roll) -> str:
    rule = production.context.rules.at(roll, END)
    copies = [
        f"{copy.finish.drive} ({LEVELS[copy.rank]})"
        for copy in counting(roll, production.context, END)
    ]
    there = ", ".join(copies) or "none"
    size = "" if roll.figures.bytes is None else f", {show_bytes(roll.bytes)}"
    return f"Roll {roll.name}{size}. Copies: {there}. Rule: {in_words(rule)}."


def _print_mishaps(screen: Console, shown: CardView) -> None:
    for mishap in shown.mishaps:
        roll_id = mishap.key.roll
        roll = "" if roll_id is None else f" (roll {shown.state.rolls[roll_id].name})"
        says = f"{mishap.severity}: {mishap.kind.says}{roll}. {mishap.kind.to_do}"
        screen.print(says[0].upper() + says[1:], markup=False)
