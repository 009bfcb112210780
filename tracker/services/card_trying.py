"""To look and to act with nobody between; and to try what would follow, and undo it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from copy import copy
from dataclasses import replace

from sqlalchemy import Connection

from tracker.domain.errors import UnknownLabel
from tracker.services.card_lines import CardPage
from tracker.services.card_page import card_page
from tracker.services.service import Service, production_row
from tracker.store.engine import Store


class _Within(Store):
    """The store, within a transaction that is open already: what is done there goes with it."""

    def __init__(self, outer: Store, conn: Connection) -> None:
        self.dialect = outer.dialect
        self._conn = conn

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The transaction that is open."""
        yield self._conn

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The same, so that what was tried is seen."""
        yield self._conn


@contextmanager
def alone(service: Service) -> Iterator[Service]:
    """The service in one transaction, in which nobody else logs anything: to look, then to act."""
    with service.store.writing() as conn:
        production_row(conn, locked=True)
        yield Service(_Within(service.store, conn), service.clock, service.memory)


def if_said(service: Service, label: str, say: Callable[[Service], object]) -> CardPage | None:
    """The page of a card as it would be then; None if there would be no such card.

    say: what is tried; it is given a service of its own. Errors: those of what is tried.
    """
    with alone(service) as inside, inside.store.writing() as conn:
        # What is remembered of a world that never was must not be taken for the real one.
        trying = replace(inside, memory=copy(service.memory))
        tried = conn.begin_nested()
        try:
            say(trying)
            with suppress(UnknownLabel):
                return card_page(trying, label)
            return None
        finally:
            tried.rollback()
