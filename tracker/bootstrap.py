"""Where real parts are put together: the only place. Importing anything starts nothing."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from datetime import datetime
from functools import partial

from flask import Flask

from tracker.channels import read_channels
from tracker.config import Settings
from tracker.operations import upgrade
from tracker.operations.holding import file_of, holding
from tracker.operations.notes import note
from tracker.reminders.clock import Clock
from tracker.reminders.delivery.made import channels_from, give_sign_of_life
from tracker.reminders.letters import NotAccepted
from tracker.reminders.notices import tick
from tracker.reminders.outbox import deliver
from tracker.services.codes import allot_missing
from tracker.services.errors import NotSetUp
from tracker.services.people import token_of
from tracker.services.service import Service, utc_now
from tracker.store import migrate
from tracker.store.engine import Store, open_store
from tracker.web.app import create_app
from tracker.web.outgoing import Outgoing

log = logging.getLogger(__name__)


@contextmanager
def opened(settings: Settings, *, new: bool = False) -> Iterator[Service]:
    """The service on its store; new: make the folder and the tables if they are not there.

    Errors: NotSetUp, and as `ready`.
    """
    if new:
        # It holds people's names: nobody else on this computer is to read them.
        settings.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    elif settings.database is None and not (settings.folder / "cardwright.db").exists():
        raise NotSetUp(
            f"There is no production in {settings.folder} ({settings.data.origin}): "
            "begin with `cardwright init`."
        )
    with ready(settings, new=new) as store:
        service = Service(store)
        allot_missing(service)
        yield service


@contextmanager
def ready(settings: Settings, *, new: bool) -> Iterator[Store]:
    """The store, with the tables and rows of this version; an older file is upgraded safely.

    Errors: NotSetUp, CannotOpen, InUse, NoRoom, CannotUpgrade.
    """
    address = settings.address
    file = file_of(address)
    with ExitStack() as stack:
        held = None if file is None else stack.enter_context(holding(file))
        store = open_store(address)
        stack.callback(store.close)
        if not new and migrate.current(store) is None:
            raise NotSetUp("There is no production here yet: begin with `cardwright init`.")
        if not upgrade.has_production(store):
            migrate.upgrade(store)
        elif upgrade.is_needed(store):
            store.close()
            done = upgrade.upgrade(address, held)
            if done is not None:
                note(settings.folder, done, "upgrade", utc_now())
            store = open_store(address)
            stack.callback(store.close)
        yield store


def web_app(
    service: Service, entrances: Mapping[str, str] | None = None, given: Settings | None = None
) -> Flask:
    """The web application on a service, which knows the tokens of its people.

    entrances: as of `create_app`. given: where the channels are set up; None: there are none.
    Errors: BadSettings.
    """
    leaves = None
    if given is not None:
        set_up = read_channels(given.folder)
        leaves = Outgoing(
            channels_from(set_up), tuple(set_up.webhooks), tuple(set_up.addresses), set_up.page
        )
    return create_app(service, partial(token_of, service), entrances, leaves)


@contextmanager
def reminding(service: Service, settings: Settings) -> Iterator[Clock]:
    """The clocks of the reminders, while it lasts; what they do is finished at the end.

    One decides, the other one hands on: a mail server that hangs holds up no decision.
    Errors: BadSettings.
    """
    set_up = read_channels(settings.folder)
    channels = channels_from(set_up)

    def hand_on(now: datetime) -> None:
        deliver(service, now, channels, set_up.page)

    outbox = Clock(hand_on, now=service.clock)
    alive = partial(give_sign_of_life, set_up)
    ticks = Clock(partial(_tick, service, outbox.soon, alive), now=service.clock)
    try:
        outbox.start()
        ticks.start()
        yield ticks
    finally:
        ticks.stop()
        outbox.stop()


@contextmanager
def reminding_here(service: Service) -> Iterator[Clock]:
    """The clock of the reminders of a service of which nothing leaves: they stand on its pages."""

    def both(now: datetime) -> None:
        tick(service, now)
        deliver(service, now)

    clock = Clock(both, now=service.clock)
    clock.start()
    try:
        yield clock
    finally:
        clock.stop()


def _tick(
    service: Service, soon: Callable[[], None], alive: Callable[[], None], now: datetime
) -> None:
    ticked = tick(service, now)
    if ticked.messages:
        soon()
    try:
        alive()
    except NotAccepted as error:
        log.warning("No sign of life could be given: %s", error.reason)
