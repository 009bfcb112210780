"""What one reading sees stands still, whoever writes meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread

import pytest

from tests.services.harbour import KIM, Clock, begin
from tracker.services import acts_card
from tracker.store import now_lists
from tracker.store.engine import Store


@pytest.mark.parametrize("dialect", ["sqlite", "postgresql"])
def test_a_reading_is_one_snapshot_from_its_first_statement(
    dialect: str, new_store: Callable[..., Store]
) -> None:
    """The first statement goes straight to the driver, as those of the busiest pages do."""
    harbour = begin(new_store(dialect), Clock())
    with harbour.service.store.reading() as conn:
        before = len(now_lists.cards(conn))
        other = Thread(
            target=acts_card.register_card,
            args=(harbour.service, KIM, "S-099", "2.5in SSD", 10**12),
        )
        other.start()
        other.join(timeout=30)
        assert not other.is_alive()
        assert len(now_lists.cards(conn)) == before
    with harbour.service.store.reading() as conn:
        assert len(now_lists.cards(conn)) == before + 1
