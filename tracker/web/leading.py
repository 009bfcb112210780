"""Where a link to a card leads: for a loader to the short page that a thumb can work."""

from __future__ import annotations

from urllib.parse import quote

from flask import g

from tracker.services import codes
from tracker.web import session


def card_at(label: str) -> str:
    """The address of the card with a label, as it is best for whoever is signed in."""
    person = session.person()
    if person is not None and person.role == "loader":
        code = _codes().get(label)
        if code is not None:
            return f"/c/{code}"
    return f"/cards/{quote(label)}"


def _codes() -> dict[str, str]:
    """The codes of all cards by label, read once for each request."""
    if "codes_of_cards" not in g:
        g.codes_of_cards = codes.of_cards(session.service())
    found: dict[str, str] = g.codes_of_cards
    return found
