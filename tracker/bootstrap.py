"""Where real parts are put together: the only place. Importing anything starts nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import partial

from flask import Flask

from tracker.config import Settings
from tracker.services.codes import allot_missing
from tracker.services.errors import NotSetUp
from tracker.services.people import token_of
from tracker.services.service import Service
from tracker.store import migrate
from tracker.store.engine import open_store
from tracker.web.app import create_app


@contextmanager
def opened(settings: Settings, *, new: bool = False) -> Iterator[Service]:
    """The service on its store; new: make the folder and the tables if they are not there.

    Errors: NotSetUp, CannotOpen.
    """
    address = settings.address
    if new:
        settings.folder.mkdir(parents=True, exist_ok=True)
    elif settings.database is None and not (settings.folder / "cardwright.db").exists():
        raise NotSetUp(
            f"There is no production in {settings.folder} ({settings.data.origin}): "
            "begin with `cardwright init`."
        )
    store = open_store(address)
    try:
        if not new and migrate.current(store) is None:
            raise NotSetUp("There is no production here yet: begin with `cardwright init`.")
        if new or not migrate.is_current(store):
            migrate.upgrade(store)
        service = Service(store)
        allot_missing(service)
        yield service
    finally:
        store.close()


def web_app(service: Service, entrances: Mapping[str, str] | None = None) -> Flask:
    """The web application on a service, which knows the tokens of its people.

    entrances: as of `create_app`.
    """
    return create_app(service, partial(token_of, service), entrances)
