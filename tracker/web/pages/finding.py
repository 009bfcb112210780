"""Finding a card, a drive or a roll by what is printed on it."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from flask import redirect, request

from tracker.services.finding import Hit
from tracker.services.finding import find as search
from tracker.web import session
from tracker.web.guard import allowed
from tracker.web.leading import card_at
from tracker.web.look import page
from tracker.web.pages import pages

WHERE = {"drive": "/drives/", "camera": "/camera/", "code": "/c/"}
LONGEST = 200


@pages.get("/find")
@allowed("look")
def find() -> Any:
    """Straight to what is meant, else what it may be."""
    found = search(session.service(), request.args.get("q", "")[:LONGEST])
    if found.lead is not None:
        return redirect(where(found.lead), code=303)
    return page("find.html", found=found, where=where)


def where(hit: Hit) -> str:
    """The address of what was found."""
    if hit.kind == "roll":
        return f"/find?q={quote(hit.label, safe='')}"
    if hit.kind == "card":
        return card_at(hit.label)
    return WHERE[hit.kind] + quote(hit.label)
