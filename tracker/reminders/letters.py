"""What is handed to a channel: a letter, and what a channel is. Sends nothing by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Letter:
    """One message to one recipient by one channel.

    id: the same over all tries, so that a receiver knows a letter that comes twice. to: an
    address in the channel's own form. body: plain text. url: a link into our page; None if there
    is none. danger: whether any of it is danger.
    """

    id: str
    to: str
    title: str
    body: str
    url: str | None = None
    danger: bool = False


class NotAccepted(Exception):
    """A channel did not take a letter.

    permanent: whether trying again is of no use. unsure: whether it may have been taken all the
    same, since no answer came.
    """

    def __init__(self, reason: str, permanent: bool = False, *, unsure: bool = False) -> None:
        super().__init__(reason)
        self.reason = reason
        self.permanent = permanent
        self.unsure = unsure


class Channel(Protocol):
    """A way by which letters go.

    kind: "mail", "webhook", "apprise" or "page".
    """

    kind: str

    def send(self, letter: Letter) -> None:
        """Hand a letter on; returns once it was accepted. Errors: NotAccepted."""
