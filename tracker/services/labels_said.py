"""A label that somebody types for a card: one that is told from the others, and has a page."""

from __future__ import annotations

import re
import unicodedata

from sqlalchemy import select

from tracker.services.service import Service
from tracker.store import tables as t

_DASH = re.compile("[\u00ad\u2212\ufe58\ufe63\uff0d]")


def why_not(service: Service, label: str, card_id: str) -> str | None:
    """What is expected instead of a new label for a card; None where it is a good one.

    A label that reads as one on another card would be taken for that; one that an address cannot
    hold would have no page.
    """
    if any(part in ("", ".", "..") for part in label.split("/")):
        return "a label with a letter or a figure on each side of a slash: it is part of an address"
    with service.store.reading() as conn:
        others = conn.scalars(select(t.Card.label).where(t.Card.id != card_id)).all()
    alike = sorted(one for one in others if one != label and as_read(one) == as_read(label))
    if not alike:
        return None
    return (
        f"a label that nobody takes for {alike[0]}, which is on another card: they differ only in "
        "capitals, dashes or spaces. Look at the label again, or print another"
    )


def as_read(label: str) -> str:
    """A label as somebody reads it aloud: without capitals, and with one kind of dash."""
    plain = unicodedata.normalize("NFKC", label).casefold()
    dashed = "".join("-" if unicodedata.category(sign) == "Pd" else sign for sign in plain)
    return " ".join(_DASH.sub("-", dashed).split())
