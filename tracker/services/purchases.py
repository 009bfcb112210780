"""What is bought and rented: kept with its history, taken in as cards and drives when it comes.

CardwrightError
└── CannotBuy   what was said does not go with what is known; the message says what to do

Said twice with the same id, nothing is doubled.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sqlalchemy import Connection

from tracker.domain.errors import CardwrightError
from tracker.domain.facts import DrivePlace
from tracker.domain.purchases import Line, Movement, Purchase
from tracker.services.acts import Obj, looking_first, obj, say
from tracker.services.service import Service, Who, new_id
from tracker.store import purchase_rows as rows
from tracker.wire.faults import BadInput, Fault
from tracker.wire.purchase_list import Listed


class CannotBuy(CardwrightError):
    """What was said does not go with what is known of a purchase."""


def add(service: Service, who: Who, purchase_id: str, purchase: Purchase) -> None:
    """Something was ordered. Errors: CannotBuy if that item of that order is known."""
    with looking_first(service) as conn:
        known = rows.lines(conn)
        if purchase_id in known:
            return
        _refuse_known(known, purchase, None)
        rows.put(conn, purchase_id, 1, purchase, service.clock(), who.by)


def change(service: Service, who: Who, purchase_id: str, purchase: Purchase, version: int) -> None:
    """A purchase is described anew. version: the one that was looked at. Errors: CannotBuy."""
    with looking_first(service) as conn:
        known = rows.lines(conn)
        held, line = _one(known, purchase_id)
        if line.purchase == purchase:
            return
        if held != version:
            raise CannotBuy("Somebody changed this purchase since: load the page again.")
        _refuse_known(known, purchase, purchase_id)
        _refuse_too_few(line, purchase)
        rows.put(conn, purchase_id, held + 1, purchase, service.clock(), who.by)


def _one(known: dict[str, tuple[int, Line]], purchase_id: str) -> tuple[int, Line]:
    if purchase_id not in known:
        raise CannotBuy("There is no such purchase: look at the list of them.")
    return known[purchase_id]


def _refuse_known(known: dict[str, tuple[int, Line]], purchase: Purchase, own: str | None) -> None:
    other = rows.by_key(known.items()).get((purchase.order, purchase.item))
    if other not in (None, own):
        raise CannotBuy(
            f"Order {purchase.order} has the item {purchase.item} already: change that one, or "
            "call this one otherwise."
        )


def _refuse_too_few(line: Line, purchase: Purchase) -> None:
    came = line.count("delivered")
    if purchase.quantity < came:
        raise CannotBuy(f"{came} came already: the quantity cannot be {purchase.quantity}.")
    if line.movements and purchase.currency != line.purchase.currency:
        raise CannotBuy(
            f"Some of it came and was counted in {line.purchase.currency}: the currency cannot "
            "change. Withdraw what came first."
        )


# What comes, goes back, and gets lost


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a delivery, by its label."""

    label: str
    serial: str | None = None


def deliver(
    service: Service,
    who: Who,
    purchase_id: str,
    moved: Movement,
    pieces: Sequence[Piece],
    *,
    place: DrivePlace,
    tap: str,
) -> None:
    """Pieces came; those with a label go into the pool or among the drives, all or none.

    place: where drives are now. Errors: CannotBuy, BadInput, LabelInUse.
    """
    with looking_first(service) as conn:
        _, line = _one(rows.lines(conn), purchase_id)
        if rows.movement(conn, tap) is not None:
            return
        if moved.quantity > line.to_come:
            raise CannotBuy(f"Only {line.to_come} of it are to come, not {moved.quantity}.")
        objs = _taken_in(service, conn, line.purchase, moved.quantity, pieces, place)
        if objs:
            say(service, conn, who, objs, None, tap)
        rows.add_movement(conn, tap, purchase_id, moved, service.clock(), who.by)


def _taken_in(
    service: Service,
    conn: Connection,
    bought: Purchase,
    quantity: int,
    pieces: Sequence[Piece],
    place: DrivePlace,
) -> list[Obj]:
    """The facts by which pieces become cards or drives."""
    faults = []
    if len(pieces) > quantity:
        faults.append(Fault("", None, "labels", f"{len(pieces)} labels", f"at most {quantity}"))
    if pieces and bought.kind == "other":
        faults.append(Fault("", None, "labels", "labels", "none: it is neither cards nor drives"))
    elif pieces and (bought.capacity_bytes is None or bought.media is None):
        expected = "its media and its capacity: change the purchase first"
        faults.append(Fault("", None, "labels", "labels of a purchase without them", expected))
    faults += _labels_in_use(service, conn, bought, pieces)
    if faults:
        raise BadInput(faults)
    return [_registered(bought, piece, place) for piece in pieces]


def _labels_in_use(
    service: Service, conn: Connection, bought: Purchase, pieces: Sequence[Piece]
) -> list[Fault]:
    if bought.kind == "drives":
        known, thing = set(service.around(conn).context.drives), "drive"
    else:
        known, thing = rows.cards_named(conn, [piece.label for piece in pieces]), "card"
    faults = []
    seen: set[str] = set()
    for number, piece in enumerate(pieces, 1):
        if piece.label in seen or piece.label in known:
            where = "twice" if piece.label in seen else f"of a {thing} that is here already"
            faults.append(Fault("", number, "label", f"{piece.label}, {where}", "another label"))
        seen.add(piece.label)
    return faults


def _registered(bought: Purchase, piece: Piece, place: DrivePlace) -> Obj:
    owner = bought.vendor if bought.terms == "rented" else None
    same = {
        "capacity_bytes": bought.capacity_bytes, "serial": piece.serial, "purchase": bought.order,
    }  # fmt: skip
    if bought.kind == "drives":
        return obj("drive_registered", drive=piece.label, kind=bought.media, place=place, **same)
    return obj("registered", card=piece.label, media=bought.media, owner=owner, **same)


def move(service: Service, who: Who, purchase_id: str, moved: Movement, *, tap: str) -> None:
    """Pieces went back, or got lost. What the journal says of them is said there. CannotBuy."""
    with looking_first(service) as conn:
        _, line = _one(rows.lines(conn), purchase_id)
        if rows.movement(conn, tap) is not None:
            return
        if moved.quantity > line.here:
            raise CannotBuy(f"Only {line.here} of it are here, not {moved.quantity}.")
        rows.add_movement(conn, tap, purchase_id, moved, service.clock(), who.by)


def withdraw(service: Service, who: Who, movement_id: str) -> str:
    """What was said to have come or gone was a mistake; the id of its purchase.

    Cards and drives that were taken in with it stay: they are taken back where they stand.
    Errors: CannotBuy.
    """
    with looking_first(service) as conn:
        row = rows.movement(conn, movement_id)
        if row is None:
            raise CannotBuy("There is no such entry: look at the page of the purchase again.")
        purchase = str(row.purchase)
        if row.withdrawn_at is None:
            _, line = _one(rows.lines(conn), purchase)
            if row.what == "delivered" and row.quantity > line.here:
                raise CannotBuy("Some of it went back or got lost: withdraw that first.")
            rows.withdraw(conn, movement_id, service.clock(), who.by)
        return purchase


def set_budget(service: Service, who: Who, currency: str, minor: int) -> None:
    """What may be spent in a currency, in its smallest unit, from now on."""
    with looking_first(service) as conn:
        if rows.budgets(conn).get(currency) != minor:
            rows.set_budget(conn, currency, minor, service.clock(), who.by)


# A list


Outcome = Literal["new", "changed", "as it was"]


@dataclass(frozen=True, slots=True)
class Kept:
    """What a list does with one purchase. came: pieces that it says were delivered anew."""

    listed: Listed
    outcome: Outcome
    came: int


def bring_in(
    service: Service, who: Who, listed: Iterable[Listed], name: str, *, dry: bool
) -> list[Kept]:
    """Take a list, all or nothing; dry: only say what it would do.

    A purchase is known by its order and item. One that says when all of it was delivered brings
    what was still to come. Errors: BadInput with every fault.
    """
    with looking_first(service) as conn:
        known = rows.lines(conn)
        ids = rows.by_key(known.items())
        kept: list[Kept] = []
        faults: list[Fault] = []
        for one in listed:
            held = known.get(ids.get((one.purchase.order, one.purchase.item), ""))
            try:
                kept.append(_outcome(one, held))
            except CannotBuy as error:
                faults.append(Fault(name, one.line, "quantity", str(error), "another line"))
        if faults:
            raise BadInput(faults)
        if not dry:
            _keep(service, conn, who, kept, known, ids)
        return kept


def _outcome(one: Listed, held: tuple[int, Line] | None) -> Kept:
    line = Line(one.purchase) if held is None else held[1]
    if held is not None:
        _refuse_too_few(line, one.purchase)
    came = one.purchase.quantity - line.count("delivered") if one.delivered else 0
    if held is None:
        return Kept(one, "new", came)
    return Kept(one, "as it was" if line.purchase == one.purchase else "changed", came)


def _keep(
    service: Service,
    conn: Connection,
    who: Who,
    kept: Sequence[Kept],
    known: dict[str, tuple[int, Line]],
    ids: dict[tuple[str, str], str],
) -> None:
    now = service.clock()
    for one in kept:
        bought = one.listed.purchase
        name = ids.get((bought.order, bought.item)) or new_id()
        version = known[name][0] if name in known else 0
        if one.outcome != "as it was":
            rows.put(conn, name, version + 1, bought, now, who.by)
        if one.came and one.listed.delivered:
            moved = Movement("delivered", one.listed.delivered, one.came)
            rows.add_movement(conn, new_id(), name, moved, now, who.by)


def delivered_on(line: Line) -> date | None:
    """When the last of a purchase came; None while some is to come."""
    came = [one.day for one in line.movements if one.what == "delivered"]
    return max(came) if came and not line.to_come else None
