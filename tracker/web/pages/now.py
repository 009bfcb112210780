"""Now: what each card needs next, what is in danger first."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from urllib.parse import urlencode

from flask import request

from tracker.services import now as seen
from tracker.services import standing
from tracker.services.now import QUIET, Asked, Line
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages

AT_ONCE = 25
"""Cards on one page, so that a phone gets it quickly."""

FEW = 8
"""So many dangers, and so many doubts, are told in full; the rest stand one link away."""

UNNAMED = "name unsure"
"""Doubts that are settled together, on a page of their own."""

MINE: dict[str, tuple[str, ...]] = {"loader": ("loader", "camera crew", "everyone")}
"""Whose next things stand first for whom; others see all in the order of urgency."""

WORDS = {
    "unit": "Crew unit",
    "camera": "Camera",
    "status": "Status",
    "holder": "Who has it",
    "case": "Case",
    "who": "Who acts next",
}
"""What can be asked for, and its word."""


@pages.get("/now")
@allowed("look")
def now() -> Any:
    """What is in danger, what each card needs next, who acts."""
    show = request.args.get("show", "")
    if show == "warnings":
        return _warnings()
    if show == "below":
        return _below()
    return _now(everything=show == "dangers")


def _now(*, everything: bool) -> Any:
    told = seen.now(session.service())
    asked = _asked()
    wanted = _wanted(told.lines, asked)
    first = _first(len(wanted))
    shown = wanted[first : first + AT_ONCE]
    mine = MINE.get(session.signed_in().role, ())
    unnamed = [one for one in told.doubts if one.kind == UNNAMED]
    together = len(unnamed) > 1
    return page(
        "now.html",
        unnamed=len(unnamed),
        doubts=[one for one in told.doubts if not (together and one.kind == UNNAMED)],
        now=told,
        danger=len(told.dangers) + len(told.gone),
        few=10**6 if everything else FEW,
        asked_for=_in_words(asked),
        choices=seen.choices(told.lines),
        words=WORDS,
        asked_now=asdict(asked),
        mine=[line for line in shown if _first_of_all(line, mine)] if mine else [],
        lines=[line for line in shown if not (mine and _first_of_all(line, mine))],
        split=bool(mine),
        quiet=_quiet(told, asked),
        count=len(wanted),
        first=first,
        last=first + len(shown),
        turn=_turn,
        at_once=AT_ONCE,
    )


def _asked() -> Asked:
    return Asked(**{name: request.args.get(name, "").strip()[:200] for name in WORDS})


def _wanted(lines: tuple[Line, ...], asked: Asked) -> list[Line]:
    """Those that are asked for; where nothing is asked, those of which something is wanted now.

    What somebody may do first stands first, but never before what is in danger.
    """
    mine = MINE.get(session.signed_in().role, ())
    if asked == Asked():
        wanted = [line for line in lines if line.status not in QUIET or line.in_danger]
    else:
        wanted = [line for line in lines if asked.fits(line)]
    return sorted(wanted, key=lambda line: not _first_of_all(line, mine)) if mine else wanted


def _first_of_all(line: Line, mine: tuple[str, ...]) -> bool:
    return line.in_danger or line.who in mine


def _quiet(told: seen.Now, asked: Asked) -> list[tuple[str, int]]:
    """The statuses that are left out, each with its count."""
    if asked != Asked():
        return []
    return [(status, count) for status, count in told.counts.items() if status in QUIET]


def _in_words(asked: Asked) -> list[tuple[str, str, str]]:
    """What is asked for: its word, what, and the address without it."""
    given = {name: value for name, value in asdict(asked).items() if value}
    return [
        (WORDS[name], value, _address({k: v for k, v in given.items() if k != name}))
        for name, value in given.items()
    ]


def _turn(first: int) -> str:
    """The address of the same list from another card on."""
    given = {name: request.args[name] for name in WORDS if request.args.get(name)}
    return _address({**given, "from": str(first)}) + "#next"


def _address(given: dict[str, str]) -> str:
    return f"/now?{urlencode(given)}" if given else "/now"


def _first(count: int) -> int:
    return min(forms.first(), max(0, count - 1)) // AT_ONCE * AT_ONCE


def _warnings() -> Any:
    found = standing.every_mishap(session.service())
    lists = [("Warnings", found["warning"]), ("Notes", found["note"])]
    return page("now_warnings.html", lists=lists, count=sum(len(same) for _, same in lists))


def _below() -> Any:
    rolls, rule = standing.below(session.service())
    first = _first(len(rolls))
    return page(
        "now_below.html",
        rolls=rolls[first : first + AT_ONCE],
        count=len(rolls),
        first=first,
        at_once=AT_ONCE,
        rule=rule,
    )
