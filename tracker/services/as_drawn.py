"""An act from a page that is old: asked again, if what the page showed is not so any more.

A fact is recorded, whatever it says. But a page that was drawn an hour ago asked about another
card than the one that is there now, and a time before a card went in is more often a slip than
a fact: so the page asks once more, and nothing is logged until somebody says it again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from tracker.domain.card import CardState
from tracker.domain.errors import CardwrightError
from tracker.services.service import Service
from tracker.store.card_page import as_it_stands
from tracker.store.projection import read_state

Check = Callable[[Connection], None]
"""Looks on in the transaction of an act, before anything is said. Errors: AskAgain."""


class AskAgain(CardwrightError):
    """Nothing was logged: the page is to be drawn anew, and to ask. why: what is otherwise."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"{why} Nothing was logged: look, and say it once more.")


class TooEarly(CardwrightError):
    """Nothing was logged: by the time that was said, it could not have happened.

    label: of the card. after: since when it could. what: what happened then.
    """

    def __init__(self, label: str, what: str, after: datetime) -> None:
        self.label = label
        self.what = what
        self.after = after
        super().__init__(f"{label} {what} after that. Nothing was logged: say another time.")


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a page showed of cards. marks: by label, as of `marks_of`; where none, nothing is asked.

    at: when it happened, as somebody said; None is now.
    """

    marks: Mapping[str, str]
    at: datetime | None = None

    def check(self, conn: Connection, cards: Iterable[str]) -> None:
        """Errors: AskAgain, TooEarly."""
        for label in cards:
            found = as_it_stands(conn, label)
            if found is None:
                continue
            card_id, mark = found
            if self.marks.get(label, mark) != mark:
                raise AskAgain(f"Something was logged about {label} since this page was drawn.")
            state = None if self.at is None else read_state(conn, card_id)
            if state is not None:
                self._not_before(state)

    def _not_before(self, state: CardState) -> None:
        latest = _latest(state)
        if latest is not None and self.at is not None and self.at < latest[0]:
            raise TooEarly(state.label, latest[1], latest[0])

    def of(self, *cards: str) -> Check:
        """The check of an act on cards."""
        return lambda conn: self.check(conn, cards)


def marks_of(service: Service, cards: Iterable[str]) -> dict[str, str]:
    """The mark of each card as it stands: another one once something is logged about it.

    To be read before what the page shows, so that a page is never older than its marks.
    """
    with service.store.reading() as conn:
        return marks_within(conn, cards)


def marks_within(conn: Connection, cards: Iterable[str]) -> dict[str, str]:
    """As `marks_of`, in a transaction."""
    found = {label: as_it_stands(conn, label) for label in cards}
    return {label: one[1] for label, one in found.items() if one is not None}


def _latest(state: CardState) -> tuple[datetime, str] | None:
    """When a card last went in or out, was formatted or cleared; and which of these it was."""
    known: list[tuple[datetime, str]] = []
    opened = state.open_roll()
    if opened is not None:
        known.append((opened.loaded[0], f"went into camera {opened.camera}"))
    known += [(r.closed[0], "came out") for r in state.all_closed() if r.closed is not None]
    if state.last_format is not None:
        known.append((state.last_format.at[0], "was formatted"))
    if state.clearing is not None:
        known.append((state.clearing.at[0], "was cleared"))
    return max(known, default=None)
