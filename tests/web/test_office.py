"""Pat of the production office opens the season once a week."""

from __future__ import annotations

from io import BytesIO

import pytest

from tests.web.visitor import Crew, Page

TYPED = {
    "order": "PO-7", "item": "8 TB drive", "kind": "drives", "terms": "bought", "vendor": "Quay",
    "quantity": "2", "unit_price": "199.99", "currency": "eur", "capacity_bytes": "8 TB",
    "media": "hdd", "ordered": "2026-02-20", "due": "2026-02-28",
}  # fmt: skip
LIST = b"""order,item,kind,bought or rented,vendor,quantity,price each,currency,ordered,delivered
PO-8,card reader,other,bought,Quay,1,89.00,EUR,2026-02-20,2026-02-25
PO-9,1 TB card,cards,rented,Shore Rentals,10,100,USD,2026-02-20,
"""


def order(crew: Crew, **typed: str) -> Page:
    return crew.pat.press(crew.pat.get("/office"), "Keep the purchase", **{**TYPED, **typed})


def test_an_empty_season_says_how_to_begin(crew: Crew) -> None:
    assert "No purchase is kept yet" in crew.pat.get("/office").says


def test_pat_orders_drives_and_they_come(crew: Crew) -> None:
    page = order(crew)
    assert "The purchase is kept." in page.says
    assert "Late: 2 pieces should have come by 2026-02-28." in page.says
    assert "199.99 EUR each, 399.98 EUR in all" in page.says
    page = crew.pat.press(page, "Keep the delivery", labels="SPARE-1, SN-1\nSPARE-2\n")
    assert "The delivery is kept." in page.says
    assert "2 of 2; 0 to come" in page.says
    assert "SPARE-2" in crew.pat.get("/drives").says
    season = crew.pat.get("/office").says
    assert "399.98 EUR spent, 0.00 EUR committed; no budget is set in EUR." in season
    assert "Drives, in EUR 25.00 EUR 2 pieces" in season


def test_a_form_with_faults_keeps_what_was_typed(crew: Crew) -> None:
    page = order(crew, quantity="none", unit_price="1,000", currency="EURO")
    assert page.status == 400
    assert "quantity: found 'none', expected a whole number from 1 to 100,000." in page.says
    assert "currency: found 'EURO'" in page.says
    assert page.form("Keep the purchase").fields["vendor"] == "Quay"
    page = order(crew, unit_price="1,000")
    assert "price each: found '1,000', expected an amount without thousands marks" in page.says


def test_a_delivery_with_a_fault_keeps_what_was_typed(crew: Crew) -> None:
    page = crew.pat.press(order(crew), "Keep the delivery", labels="RAID\n,x\nA,b,c")
    assert page.status == 400
    assert "line 2, labels: found ',x'" in page.says
    assert "line 3, labels: found 'A,b,c'" in page.says
    assert "RAID\n,x" in page.answer.text.replace("\r\n", "\n")
    page = crew.pat.press(page, "Keep the delivery", labels="RAID")
    assert "RAID, of a drive that is here already" in page.says


def test_what_went_is_kept_and_withdrawn(crew: Crew) -> None:
    page = crew.pat.press(order(crew), "Keep the delivery", pieces="2")
    page = crew.pat.press(page, "Keep what went", what="lost", pieces="1", amount="250")
    assert "lost 1 250.00 EUR Pat" in page.says
    lost = next(words for words in page.buttons if words.endswith(": 1 lost 2026-03-02"))
    page = crew.pat.press(page, lost)
    assert "withdrawn by Pat" in page.says
    page = crew.pat.press(page, "Keep what went", what="", pieces="1")
    assert "what: found nothing, expected returned or lost" in page.says


def test_pat_changes_a_purchase(crew: Crew) -> None:
    page = crew.pat.press(order(crew), "Change it so", unit_price="150")
    assert "changed price each." in page.says
    page = crew.pat.press(page, "Change it so", quantity="0")
    assert "quantity: found '0'" in page.says


def test_a_list_is_tried_and_then_kept(crew: Crew) -> None:
    page = crew.pat.get("/office")
    page = crew.pat.press(page, "Try it, keep nothing", file=(BytesIO(LIST), "orders.csv"))
    assert "Only tried: nothing is kept yet. 2 lines can be taken." in page.says
    assert "PO-8, card reader: new; 1 piece came on 2026-02-25" in page.says
    assert "PO-8:" not in crew.pat.get("/office").says
    page = crew.pat.press(page, "Keep what was tried")
    assert "The list is kept." in page.says
    assert "89.00 EUR spent" in page.says
    assert "1,000.00 USD committed" in page.says
    assert "Each currency is counted by itself" in page.says


def test_a_list_with_faults_names_each(crew: Crew) -> None:
    bad = LIST.replace(b"89.00", b"free").replace(b"cards,rented", b"cards,leased")
    page = crew.pat.get("/office")
    page = crew.pat.press(page, "Keep the list", file=(BytesIO(bad), "orders.csv"))
    assert page.status == 400
    assert "orders.csv, line 2, price each: found 'free'" in page.says
    assert "orders.csv, line 3, bought or rented: found 'leased'" in page.says
    page = crew.pat.press(page, "Keep the list", file=None)
    assert "file: found nothing, expected a list as CSV or XLSX" in page.says


def test_what_is_taken_along_is_a_list_again(crew: Crew) -> None:
    order(crew)
    for ending in ("csv", "xlsx"):
        answer = crew.pat.client.get(f"/office/purchases.{ending}")
        page = crew.pat.press(
            crew.pat.get("/office"), "Try it, keep nothing",
            file=(BytesIO(answer.data), f"p.{ending}"),
        )  # fmt: skip
        assert "PO-7, 8 TB drive: as it was" in page.says
    assert crew.pat.client.get("/office/purchases.pdf").status_code == 404


def test_a_budget_is_set_and_is_over(crew: Crew) -> None:
    order(crew)
    page = crew.pat.press(crew.pat.get("/office"), "Set the budget", amount="300", currency="EUR")
    assert "99.98 EUR over the budget of 300.00 EUR." in page.says
    page = crew.pat.press(page, "Set the budget", amount="a lot", currency="EUR")
    assert "amount: found a lot" in page.says or "amount: found 'a lot'" in page.says


def test_every_count_leads_to_its_list(crew: Crew) -> None:
    order(crew)
    page = crew.pat.get("/office")
    assert "/office?list=late#purchases" in page.read.links
    assert "PO-7: 8 TB drive" in crew.pat.get("/office?list=late").says
    assert "PO-7: 8 TB drive" not in crew.pat.get("/office?list=lost").says


@pytest.mark.parametrize("name", ["kim", "pat", "ada"])
def test_the_desk_finds_the_office(crew: Crew, name: str) -> None:
    assert "/office" in getattr(crew, name).get("/now").read.links


def test_the_loader_does_not(crew: Crew) -> None:
    assert "/office" not in crew.lee.get("/now").read.links
    assert crew.lee.get("/office").status == 403
