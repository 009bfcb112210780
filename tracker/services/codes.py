"""Short codes: whose one is, and which one a card or a drive has."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from tracker.domain.codes import LENGTH, BadCode, code_of, number_of
from tracker.domain.errors import CardwrightError, UnknownLabel
from tracker.services.looking import card_by_label
from tracker.services.service import Service, production_row
from tracker.store import codes

DRIVE = "drive/"

_LINK = re.compile(r"(?i).*?/c/([^/?#\s]+)/?(?:[?#].*)?")
"""The link of a label, in any case, as a scanner types it."""


class NobodysCode(CardwrightError):
    """A code that is rightly typed, and that no card or drive of this production has."""

    def __init__(self, code: str) -> None:
        self.code = code
        super().__init__(
            f"No card or drive of this production has the code {code}. It may be of another "
            "production: find the card by its label."
        )


@dataclass(frozen=True, slots=True)
class Coded:
    """What a code belongs to, by its label. code: in capitals; None if it has none."""

    kind: Literal["card", "drive"]
    label: str
    code: str | None


def whose(service: Service, typed: str) -> Coded:
    """The card or drive with a code. Errors: BadCode, NobodysCode."""
    number = number_of(typed)
    code = code_of(number)
    with service.store.reading() as conn:
        subject = codes.subject_of(conn, number)
        if subject is not None and subject.startswith(DRIVE):
            return Coded("drive", subject.removeprefix(DRIVE), code)
        label = None if subject is None else codes.label_of(conn, subject)
    if label is None:
        raise NobodysCode(code)
    return Coded("card", label, code)


def typed_or_scanned(service: Service, said: str) -> Coded:
    """The card or drive that a label, a code or a label's link means; a label goes first.

    Errors: BadCode for four characters that are neither, NobodysCode, UnknownLabel.
    """
    label = said.strip()
    for one in dict.fromkeys((label, label.upper())):
        found = by_label(service, one)
        if found is not None:
            return found
    link = _LINK.fullmatch(label)
    try:
        return whose(service, link[1] if link else label)
    except BadCode as error:
        if link:
            raise
        unknown = _no_card(service, label)
        if len(label) != LENGTH:
            raise unknown from None
        why = f"{error.why} As a label it is wrong too: {unknown}."
        raise BadCode(said, why) from None


def _no_card(service: Service, label: str) -> UnknownLabel:
    """That no card has a label now, with the nearest labels."""
    try:
        with service.store.reading() as conn:
            card_by_label(conn, label)
    except UnknownLabel as error:
        return error
    return UnknownLabel("card", label, ())


def by_label(service: Service, label: str) -> Coded | None:
    """The card or the drive that has a label now, with its code; None if there is none."""
    with service.store.reading() as conn:
        card_id = codes.card_of(conn, label)
        drive = codes.drive_of(conn, label)
        if card_id is None and drive is None:
            return None
        subject = DRIVE + label if card_id is None else card_id
        number = codes.number_for(conn, subject)
    code = None if number is None else code_of(number)
    return Coded("drive" if card_id is None else "card", label, code)


def of_cards(service: Service) -> dict[str, str]:
    """The code of every card that has one, by the label that the card has now."""
    with service.store.reading() as conn:
        numbers = codes.numbers_by_label(conn)
    return {label: code_of(number) for label, number in numbers.items()}


def code_for_drive(service: Service, label: str) -> str | None:
    """The code of a drive; None if it has none."""
    return _code(service, DRIVE + label)


def code_for_card(service: Service, card_id: str) -> str | None:
    """The code of a card, by its id; None if it has none."""
    return _code(service, card_id)


def _code(service: Service, subject: str) -> str | None:
    with service.store.reading() as conn:
        number = codes.number_for(conn, subject)
    return None if number is None else code_of(number)


def allot_missing(service: Service) -> int:
    """Give a code to each card and drive that has none; how many those were.

    It is one small question where none is missing. Errors: none where there is no production.
    """
    with service.store.reading() as conn:
        if not codes.without(conn):
            return 0
    with service.store.writing() as conn:
        production_row(conn, locked=True)
        missing = codes.without(conn)
        codes.allot(conn, missing)
    return len(missing)
