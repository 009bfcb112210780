"""Every story of a service is told on both databases."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.services.harbour import Clock, Harbour, begin
from tracker.store.engine import Store

DIALECTS = ("sqlite", "postgresql")


@pytest.fixture(params=DIALECTS)
def dialect(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture
def store(dialect: str, new_store: Callable[..., Store]) -> Store:
    """An open store with all tables and nothing in them, once on each database."""
    return new_store(dialect)


@pytest.fixture
def clock() -> Clock:
    """Stands at 08:00 of the first day until a test moves it."""
    return Clock()


@pytest.fixture
def harbour(store: Store, clock: Clock) -> Harbour:
    """A production with its cards, cameras and drives, on each database."""
    return begin(store, clock)
