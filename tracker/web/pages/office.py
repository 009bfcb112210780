"""What was bought and rented: the season's money, each purchase, and lists brought in and out."""

from __future__ import annotations

from typing import Any, get_args

from flask import Response, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as Answer

from tracker.domain.errors import CardwrightError, LabelInUse
from tracker.domain.facts import DrivePlace
from tracker.domain.money import PLACES, NotMoney, parse_money, plain_money, show_money
from tracker.domain.purchases import Movement, Purchase
from tracker.services import office_page, purchases
from tracker.services.purchases import CannotBuy, Kept, Piece
from tracker.web import forms, session
from tracker.web.guard import allowed
from tracker.web.look import page
from tracker.web.pages import pages
from tracker.wire.faults import BadInput, Fault, shown
from tracker.wire.purchase_list import (
    EXPECTED,
    NAMES,
    NEEDED,
    Listed,
    clean,
    read_day,
    read_purchases,
    read_words,
    words_of,
    write_csv,
    write_workbook,
)

PLACES_OF_DRIVES: tuple[DrivePlace, ...] = get_args(DrivePlace)
CHOICES = {"kind": ("drives", "cards", "other"), "terms": ("bought", "rented")}
FIELDS = [field for field in NAMES if field != "delivered"]
DAYS = ("ordered", "due", "warranty_until", "return_by")
LARGEST_KEPT = 400_000
"""Characters of a list that its trial hands on; a larger file is chosen again."""

DONE = {
    "added": "The purchase is kept.",
    "changed": "The purchase is changed. How it was described before stands below.",
    "came": "The delivery is kept.",
    "went": "It is kept.",
    "withdrawn": "It counts no more. What it took into the pool or among the drives stays there.",
    "list": "The list is kept.",
    "budget": "The budget is set.",
}
LISTS = {
    "all": "All purchases", "to-come": "Some is to come", "late": "Late",
    "to-go-back": "Rented, to go back", "lost": "Some got lost",
}  # fmt: skip
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@pages.get("/office")
@allowed("office")
def office() -> Any:
    """The season: what was spent and committed, and every purchase."""
    return _office(None)


def _office(wrong: CardwrightError | None, tried: list[Kept] | None = None, **more: Any) -> Any:
    season = office_page.season(session.service())
    which = request.args.get("list", "all")
    which = which if which in LISTS else "all"
    return page(
        "office.html",
        status=200 if wrong is None else 400,
        season=season,
        listed=[one for one in season.purchases if one.is_in(which)],
        which=which,
        lists=LISTS,
        readings=[(total, office_page.reading(total)) for total in season.totals],
        money=show_money,
        tried=tried,
        done=DONE.get(request.args.get("done", "")),
        faults=_faults(wrong),
        **_form(),
        **{"keep": "", "opened": "", **more},
    )


def _form() -> dict[str, Any]:
    """What the form of a purchase is drawn with."""
    return {"fields": FIELDS, "needed": NEEDED, "names": NAMES, "expected": EXPECTED,
            "choices": CHOICES, "days": DAYS}  # fmt: skip


def _faults(wrong: CardwrightError | None) -> list[str]:
    if isinstance(wrong, BadInput):
        return [fault.message for fault in wrong.faults]
    return [] if wrong is None else [str(wrong)]


def _said(field: str) -> str:
    return clean(request.form.get(field, "").replace("\0", " "))


def _purchase() -> Purchase:
    """The purchase that a form describes. Errors: BadInput with every fault."""
    words = {field: said for field in FIELDS if (said := _said(field))}
    faults: list[Fault] = []
    found, _ = read_words(
        words,
        lambda field, what, expected: faults.append(
            Fault("", None, NAMES[field][0], what, expected)
        ),
    )
    if found is None:
        raise BadInput(faults)
    return found


def _done(done: str, purchase_id: str | None = None) -> Answer:
    if purchase_id is None:
        return redirect(url_for("pages.office", done=done), code=303)
    return redirect(url_for("pages.purchase", purchase=purchase_id, done=done), code=303)


@pages.post("/office")
@allowed("purchase")
def add_purchase() -> Any:
    """Something was ordered."""
    tap = forms.tap()
    try:
        purchases.add(session.service(), tap.who, tap.id, _purchase())
    except (BadInput, CannotBuy) as error:
        return _office(error, opened="new")
    return _done("added", tap.id)


@pages.post("/office/budget")
@allowed("purchase")
def set_budget() -> Any:
    """What may be spent."""
    currency, amount = _said("currency").upper(), _said("amount")
    try:
        if currency not in PLACES:
            raise forms.fault("currency", currency or "nothing", EXPECTED["currency"])
        purchases.set_budget(session.service(), session.who(), currency, _money(amount, currency))
    except BadInput as error:
        return _office(error, opened="budget")
    return _done("budget")


def _money(said: str, currency: str) -> int:
    try:
        return parse_money(said, currency)
    except NotMoney as error:
        raise forms.fault("amount", said or "nothing", error.expected) from None


# Lists


@pages.post("/office/list")
@allowed("purchase")
def purchase_list() -> Any:
    """A list is tried, or kept."""
    dry = request.form.get("do") != "keep"
    try:
        data, name = _list_sent()
        listed = read_purchases(data, name)
        kept = purchases.bring_in(session.service(), session.who(), listed, name, dry=dry)
    except BadInput as error:
        return _office(error, opened="list")
    if not dry:
        return _done("list")
    text = write_csv(listed)
    return _office(None, kept, keep=text if len(text) <= LARGEST_KEPT else "", opened="list")


def _list_sent() -> tuple[bytes, str]:
    """A file, or what a trial handed on. Errors: BadInput."""
    tried = request.form.get("tried", "")
    if tried:
        return tried.encode("utf-8", "replace"), "the list that was tried.csv"
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        raise forms.fault("file", "nothing", "a list as CSV or XLSX")
    return sent.read(), sent.filename


@pages.get("/office/purchases.<ending>")
@allowed("office")
def purchases_file(ending: str) -> Response:
    """All purchases, to take along."""
    listed = office_page.listed(office_page.season(session.service()).purchases)
    if ending == "csv":
        answer = Response(write_csv(listed), mimetype="text/csv")
    elif ending == "xlsx":
        answer = Response(write_workbook(listed), mimetype=WORKBOOK)
    else:
        raise NotFound
    answer.headers["Content-Disposition"] = f'attachment; filename="purchases.{ending}"'
    return answer


# One purchase


@pages.get("/office/purchases/<purchase>")
@allowed("office")
def purchase(purchase: str) -> Any:
    """One purchase, what came of it, and how it was described."""
    return _one(purchase, None)


def _one(purchase_id: str, wrong: CardwrightError | None, opened: str = "") -> Any:
    found = office_page.one_purchase(session.service(), purchase_id)
    if found is None:
        raise NotFound("There is no such purchase.")
    bought = found.shown.line.purchase
    return page(
        "purchase.html",
        status=200 if wrong is None else 400,
        found=found,
        line=found.shown.line,
        bought=bought,
        values=words_of(Listed(0, bought)),
        money=show_money,
        plain=plain_money,
        places=PLACES_OF_DRIVES,
        today=office_page.season(session.service()).today,
        opened=opened,
        done=DONE.get(request.args.get("done", "")),
        faults=_faults(wrong),
        **_form(),
    )


@pages.post("/office/purchases/<purchase>")
@allowed("purchase")
def change_purchase(purchase: str) -> Any:
    """It is described anew."""
    _there(purchase)
    try:
        version = forms.number("version") or 0
        purchases.change(session.service(), session.who(), purchase, _purchase(), version)
    except (BadInput, CannotBuy) as error:
        return _one(purchase, error, "change")
    return _done("changed", purchase)


def _there(purchase_id: str) -> Purchase:
    """The purchase of an address. Errors: NotFound."""
    found = office_page.one_purchase(session.service(), purchase_id)
    if found is None:
        raise NotFound("There is no such purchase.")
    return found.shown.line.purchase


@pages.post("/office/purchases/<purchase>/came")
@allowed("purchase")
def came(purchase: str) -> Any:
    """Some of it was delivered; what has a label goes into the pool, or among the drives."""
    bought, tap = _there(purchase), forms.tap()
    try:
        pieces = _pieces(request.form.get("labels", ""))
        moved = Movement("delivered", _day(), _count(len(pieces)))
        place: Any = request.form.get("place", "on set")
        if bought.kind == "drives" and place not in PLACES_OF_DRIVES:
            raise forms.fault("place", place, f"one of: {', '.join(PLACES_OF_DRIVES)}")
        service = session.service()
        purchases.deliver(service, tap.who, purchase, moved, pieces, place=place, tap=tap.id)
    except (BadInput, CannotBuy, LabelInUse) as error:
        return _one(purchase, error, "came")
    return redirect(url_for("pages.purchase", purchase=purchase, done="came"), code=303)


def _day() -> Any:
    said = _said("day")
    day = read_day(said)
    if day is None:
        raise forms.fault("day", said or "nothing", EXPECTED["ordered"])
    return day


def _count(labels: int) -> int:
    number = forms.number("pieces")
    number = labels if number is None else number
    if number < 1:
        raise forms.fault("pieces", str(number), "how many pieces: at least 1")
    return number


def _pieces(said: str) -> list[Piece]:
    """A piece on each line: its label, and its serial number after a comma."""
    faults, found = [], []
    lines = [(n, line.strip()) for n, line in enumerate(said.splitlines(), 1) if line.strip()]
    for number, line in lines:
        label, _, serial = (part.strip() for part in line.partition(","))
        if not label or "," in serial:
            expected = "a label, and after one comma its serial number"
            faults.append(Fault("", number, "labels", shown(line), expected))
        found.append(Piece(label, serial or None))
    if faults:
        raise BadInput(faults)
    return found


@pages.post("/office/purchases/<purchase>/went")
@allowed("purchase")
def went(purchase: str) -> Any:
    """Some of it went back, or got lost."""
    bought, tap = _there(purchase), forms.tap()
    try:
        what: Any = request.form.get("what", "")
        if what not in ("returned", "lost"):
            raise forms.fault("what", what or "nothing", "returned or lost")
        amount = _said("amount")
        minor = _money(amount, bought.currency) if amount else None
        moved = Movement(what, _day(), _count(0), minor)
        purchases.move(session.service(), tap.who, purchase, moved, tap=tap.id)
    except (BadInput, CannotBuy) as error:
        return _one(purchase, error, "went")
    return _done("went", purchase)


@pages.post("/office/withdraw")
@allowed("purchase")
def withdraw_movement() -> Answer:
    """It was a mistake that something came or went."""
    movement = forms.text("movement", needed=True) or ""
    return _done("withdrawn", purchases.withdraw(session.service(), session.who(), movement))
