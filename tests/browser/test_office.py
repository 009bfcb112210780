"""The pages of the production office in a real browser: at every width, in both lights, by keys."""

from __future__ import annotations

from datetime import date

import pytest

from tests.browser.conftest import WIDTHS, Served
from tests.browser.judged import holds
from tests.services.harbour import KIM
from tracker.domain.purchases import Movement, Purchase
from tracker.services import purchases
from tracker.services.service import new_id

DAY = date(2026, 2, 20)


def bought(served: Served) -> str:
    """Two drives, one of which came; the other is late. More than the budget."""
    service, name = served.harbour.service, new_id()
    purchase = Purchase(
        order="PO-7", item="8 TB drive", kind="drives", terms="bought", vendor="Quay Supplies",
        quantity=2, unit_price=19_999, currency="EUR", ordered=DAY, due=date(2026, 2, 27),
        capacity_bytes=8 * 10**12, media="hdd",
    )  # fmt: skip
    purchases.add(service, KIM, name, purchase)
    moved = Movement("delivered", date(2026, 2, 26), 1)
    purchases.deliver(service, KIM, name, moved, [], place="on set", tap=new_id())
    purchases.set_budget(service, KIM, "EUR", 30_000)
    return name


@pytest.mark.parametrize("dark", [False, True])
def test_the_pages_are_fit_at_every_width(served: Served, dark: bool) -> None:
    name = bought(served)
    for path in ("/office", f"/office/purchases/{name}"):
        page = served.look("Pat", path, dark=dark)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            holds(page, least=48 if width < 768 else 44)
