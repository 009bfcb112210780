"""Every story of the store is told on both databases."""

from __future__ import annotations

from collections.abc import Callable

import pytest

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
def each_store(new_store: Callable[..., Store]) -> list[Store]:
    """One store on each database at once, to compare what they say."""
    return [new_store(dialect) for dialect in DIALECTS]
