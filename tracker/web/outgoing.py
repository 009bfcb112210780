"""What leaves by the channels, as the pages know it: which there are, and a test of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from types import MappingProxyType

from flask import current_app

from tracker.reminders.letters import Channel, Letter, NotAccepted
from tracker.services.notices import CannotAnswer
from tracker.services.service import new_id

ONE_TEST_IN = timedelta(seconds=30)
"""So seldom somebody may send a test: it goes to whatever address they gave."""
_KEY = "cardwright.outgoing"


@dataclass(slots=True)
class Outgoing:
    """The channels of this service, by kind.

    hosts: those that webhooks may go to. names: of the addresses that were set up at the
    computer. page: where people reach our pages; None is unknown. tested: when, by person.
    """

    channels: Mapping[str, Channel] = field(default_factory=lambda: MappingProxyType({}))
    hosts: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    page: str | None = None
    tested: dict[str, datetime] = field(default_factory=dict)

    def test(self, person: str, kind: str, address: str, production: str, now: datetime) -> None:
        """Send a test. Errors: CannotAnswer, with what the channel said."""
        channel = self.channels.get(kind)
        if channel is None:
            raise CannotAnswer("Nothing goes out from this service: it runs without its clock.")
        last = self.tested.get(person)
        if last is not None and timedelta(0) <= now - last < ONE_TEST_IN:
            raise CannotAnswer("A test went just now: wait half a minute for the next one.")
        self.tested[person] = now
        letter = Letter(
            new_id(),
            address,
            f"{production}: a test",
            "This is a test of the reminders. Nothing is wrong, and there is nothing to do.\n",
            self.page,
        )
        try:
            channel.send(letter)
        except NotAccepted as error:
            raise CannotAnswer(f"It was not taken: {error.reason}") from None


def outgoing() -> Outgoing:
    """What leaves the service that runs here."""
    found: Outgoing = current_app.extensions[_KEY]
    return found


def keep(extensions: dict[str, object], given: Outgoing | None) -> None:
    """Let an app know what leaves it."""
    extensions[_KEY] = given or Outgoing()
