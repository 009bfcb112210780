"""What is ordered, comes, goes back and gets lost is kept with its history, on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from tests.services.harbour import KIM, Harbour
from tracker.domain.facts import Registered
from tracker.domain.purchases import Movement, Purchase
from tracker.services import office_page, purchases
from tracker.services.purchases import CannotBuy, Piece
from tracker.services.service import new_id
from tracker.wire.faults import BadInput
from tracker.wire.purchase_list import Listed

DAY = date(2026, 3, 2)
CARDS = Purchase(
    order="PO-7", item="1 TB card", kind="cards", terms="rented", vendor="Quay Rentals",
    quantity=3, unit_price=12_000, currency="EUR", ordered=DAY, capacity_bytes=10**12,
    media="2.5in SSD", due=DAY, return_by=date(2026, 4, 1), lost_charge=90_000,
)  # fmt: skip
DRIVES = replace(
    CARDS, item="8 TB drive", kind="drives", terms="bought", media="hdd", quantity=2,
    capacity_bytes=8 * 10**12, lost_charge=None, return_by=None,
)  # fmt: skip


def came(harbour: Harbour, name: str, count: int, *labels: str, tap: str | None = None) -> None:
    pieces = [Piece(label, f"SN-{label}") for label in labels]
    moved = Movement("delivered", DAY, count)
    purchases.deliver(
        harbour.service, KIM, name, moved, pieces, place="on set", tap=tap or new_id()
    )


def ordered(harbour: Harbour, purchase: Purchase = CARDS) -> str:
    name = new_id()
    purchases.add(harbour.service, KIM, name, purchase)
    return name


def one(harbour: Harbour, name: str) -> office_page.OnePurchase:
    found = office_page.one_purchase(harbour.service, name)
    assert found is not None
    return found


def test_a_delivery_takes_its_cards_into_the_pool(harbour: Harbour) -> None:
    name = ordered(harbour)
    came(harbour, name, 2, "R-001", "R-002")
    assert harbour.status("R-001") == "unseen"
    (said,) = harbour.facts("R-001")
    assert isinstance(said, Registered)
    assert (said.serial, said.media, said.owner, said.purchase) == (
        "SN-R-001", "2.5in SSD", "Quay Rentals", "PO-7"
    )  # fmt: skip
    line = one(harbour, name).shown.line
    assert (line.to_come, line.here) == (1, 2)
    assert harbour.agrees()


def test_a_delivery_takes_its_drives_among_the_drives(harbour: Harbour) -> None:
    came(harbour, ordered(harbour, DRIVES), 2, "SPARE-1", "SPARE-2")
    known = harbour.service.memory
    with harbour.service.store.reading() as conn:
        assert {"SPARE-1", "SPARE-2"} <= set(known.look(conn).context.drives)


def test_a_delivery_said_twice_is_one(harbour: Harbour) -> None:
    name, tap = ordered(harbour), new_id()
    for _ in range(2):
        came(harbour, name, 1, "R-001", tap=tap)
    assert one(harbour, name).shown.line.here == 1


def test_a_delivery_with_a_fault_takes_nothing(harbour: Harbour) -> None:
    name = ordered(harbour)
    with pytest.raises(BadInput, match="S-014, of a card that is here already"):
        came(harbour, name, 2, "R-001", "S-014")
    with pytest.raises(BadInput, match="twice"):
        came(harbour, name, 2, "R-001", "R-001")
    with pytest.raises(CannotBuy, match="Only 3"):
        came(harbour, name, 4)
    with pytest.raises(BadInput, match="3 labels"):
        came(harbour, name, 2, "R-001", "R-002", "R-003")
    with pytest.raises(BadInput, match="of a drive that is here already"):
        came(harbour, ordered(harbour, DRIVES), 1, "RAID")
    with pytest.raises(BadInput, match="change the purchase first"):
        came(harbour, ordered(harbour, replace(CARDS, order="PO-9", media=None)), 1, "R-001")
    assert "R-001" not in harbour.labels()
    assert one(harbour, name).moved == []


def test_what_came_can_go_back_or_get_lost(harbour: Harbour) -> None:
    name = ordered(harbour)
    came(harbour, name, 3)
    purchases.move(harbour.service, KIM, name, Movement("lost", DAY, 1), tap=new_id())
    back = Movement("returned", DAY, 2)
    purchases.move(harbour.service, KIM, name, back, tap=new_id())
    with pytest.raises(CannotBuy, match="Only 0"):
        purchases.move(harbour.service, KIM, name, back, tap=new_id())
    (total,) = office_page.season(harbour.service).totals
    assert total.spent == 3 * 12_000 + 90_000


def test_a_mistake_is_withdrawn_and_stays_in_the_history(harbour: Harbour) -> None:
    name, tap, lost = ordered(harbour), new_id(), new_id()
    came(harbour, name, 3, tap=tap)
    purchases.move(harbour.service, KIM, name, Movement("lost", DAY, 1), tap=lost)
    with pytest.raises(CannotBuy, match="withdraw that first"):
        purchases.withdraw(harbour.service, KIM, tap)
    for movement in (lost, tap, tap):
        purchases.withdraw(harbour.service, KIM, movement)
    found = one(harbour, name)
    assert found.shown.line.to_come == 3
    assert [row.withdrawn_at is not None for row in found.moved] == [True, True]


def test_a_change_is_kept_beside_what_was_said_before(harbour: Harbour) -> None:
    name = ordered(harbour)
    purchases.change(harbour.service, KIM, name, replace(CARDS, unit_price=11_000), 1)
    purchases.change(harbour.service, KIM, name, replace(CARDS, unit_price=11_000), 1)
    found = one(harbour, name)
    assert [(row.number, row.changes) for row in found.versions] == [(2, ("unit_price",)), (1, ())]
    with pytest.raises(CannotBuy, match="Somebody changed"):
        purchases.change(harbour.service, KIM, name, replace(CARDS, quantity=9), 1)
    came(harbour, name, 2)
    with pytest.raises(CannotBuy, match="2 came already"):
        purchases.change(harbour.service, KIM, name, replace(CARDS, quantity=1), 2)
    with pytest.raises(CannotBuy, match="the currency cannot"):
        purchases.change(harbour.service, KIM, name, replace(CARDS, currency="USD"), 2)
    with pytest.raises(CannotBuy, match="has the item"):
        ordered(harbour)


def test_budgets_are_each_of_one_currency(harbour: Harbour) -> None:
    ordered(harbour)
    for currency, minor in (("EUR", 1), ("EUR", 30_000), ("USD", 5)):
        purchases.set_budget(harbour.service, KIM, currency, minor)
    euro, dollar = office_page.season(harbour.service).totals
    assert office_page.reading(euro) == (
        "0.00 EUR spent, 360.00 EUR committed: 60.00 EUR over the budget of 300.00 EUR."
    )
    assert office_page.reading(dollar) == (
        "0.00 USD spent, 0.00 USD committed; of the budget of 0.05 USD, 0.05 USD is left."
    )


def test_a_list_is_tried_then_kept_and_read_twice_is_read_once(harbour: Harbour) -> None:
    listed = [Listed(2, CARDS), Listed(3, DRIVES, DAY)]

    def outcomes(*, dry: bool) -> list[tuple[str, int]]:
        kept = purchases.bring_in(harbour.service, KIM, listed, "orders.csv", dry=dry)
        return [(one.outcome, one.came) for one in kept]

    for dry in (True, True, False):
        assert outcomes(dry=dry) == [("new", 0), ("new", 2)]
    assert outcomes(dry=False) == [("as it was", 0), ("as it was", 0)]
    season = office_page.season(harbour.service)
    assert len(season.purchases) == 2
    # What is taken along is what was brought in.
    taken = office_page.listed(season.purchases)
    assert {(one.purchase, one.delivered) for one in taken} == {(CARDS, None), (DRIVES, DAY)}
    listed[0] = Listed(2, replace(CARDS, quantity=5))
    assert outcomes(dry=False) == [("changed", 0), ("as it was", 0)]


def test_a_list_with_a_fault_keeps_nothing(harbour: Harbour) -> None:
    came(harbour, ordered(harbour), 2)
    listed = [Listed(2, DRIVES), Listed(3, replace(CARDS, quantity=1))]
    with pytest.raises(BadInput, match=r"orders.csv, line 3, quantity: found 2 came already"):
        purchases.bring_in(harbour.service, KIM, listed, "orders.csv", dry=False)
    assert len(office_page.season(harbour.service).purchases) == 1
