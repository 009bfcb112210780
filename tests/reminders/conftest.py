"""Every story of the reminders is told on both databases."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from tests.reminders.post import Post, post
from tracker.store.engine import Store

OURS = ("tracker.reminders.notices", "tracker.reminders.outbox", "tracker.reminders.sight")


@pytest.fixture(autouse=True)
def nothing_went_wrong(caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """What is caught so that others still hear of theirs is a fault here all the same."""
    yield
    for when in ("setup", "call"):
        wrong = [r for r in caplog.get_records(when) if r.levelname == "ERROR"]
        ours = [one.getMessage() for one in wrong if one.name in OURS]
        assert not ours, wrong[0].exc_text


@pytest.fixture(params=("sqlite", "postgresql"))
def dialect(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def told(dialect: str, new_store: Callable[..., Store]) -> Post:
    """Harbour, whose people are told by mail, once on each database."""
    return post(new_store(dialect))
