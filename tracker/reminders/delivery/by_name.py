"""Letters to phones and chats, through the apprise library.

Who receives is a name; the address behind it, with its secrets, stands in the file of the channels
and nowhere else. The library's own words are kept out of our log, since addresses stand in them.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping
from typing import Any

from tracker.reminders.letters import Letter, NotAccepted

PATIENCE_S = 30


class Apprise:
    """Sends letters to addresses of the apprise library. addresses: by their names."""

    kind = "apprise"

    def __init__(self, addresses: Mapping[str, str]) -> None:
        self._addresses = addresses

    def send(self, letter: Letter) -> None:
        """Hand a letter to the service behind a name. Errors: NotAccepted."""
        address = self._addresses.get(letter.to)
        if address is None:
            # Not repeated in full: somebody may have put an address where a name belongs.
            raise NotAccepted(
                f"{_shown(letter.to)} is no name of an address here. Whoever runs the service can "
                "set it: cardwright channels set apprise NAME"
            )
        service = opened(address)
        if service is None:
            raise NotAccepted(
                f"The address of {letter.to} is none that the library knows. Set it anew: "
                f"cardwright channels set apprise {letter.to}"
            )
        try:
            result = _notify(service, letter)
        except Exception:
            # What another's code raises may hold the address; it is not repeated.
            raise NotAccepted(f"{letter.to}: the library failed.", unsure=True) from None
        if not result:
            status = _status(result)
            raise NotAccepted(f"{letter.to} did not take it{status}.", unsure=not status)


def _notify(service: Any, letter: Letter) -> Any:
    link = f"\n\n{letter.url}" if letter.url else ""
    return service.notify(
        title=" ".join(letter.title.split()),
        body=f"{letter.body}{link}",
        notify_type="failure" if letter.danger else "info",
        body_format="text",
        timeout=PATIENCE_S,
    )


def opened(address: str) -> Any:
    """The service behind an address, ready to be sent to; None if it is none."""
    # It reads some 190 modules when it is first needed, and only then.
    import apprise  # noqa: PLC0415

    _hush()
    asset = apprise.AppriseAsset(
        app_id="Cardwright", app_desc="Cardwright", app_url="", storage_mode="memory"
    )
    service = apprise.Apprise(asset=asset)
    return service if service.add(address) else None


def scheme_of(address: str) -> str:
    """What may be shown of an address: which service it is of."""
    found = re.match(r"[a-z0-9]+(?=://)", address.lower())
    return found[0] if found else "unknown"


class Reticent(logging.Filter):
    """Lets through of the library's words only that there is trouble, and its status of HTTP."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Cut a line down to what holds no address."""
        if record.levelno < logging.WARNING:
            return False
        found = re.search(r"\berror=(\d{3})\b", record.getMessage())
        record.msg = f"A service did not take a letter{f': error={found[1]}' if found else ''}."
        record.args, record.exc_info, record.exc_text = (), None, None
        return True


def _hush() -> None:
    """Keep addresses, which both tell when asked for detail, out of our log."""
    library = logging.getLogger("apprise")
    if not any(isinstance(one, Reticent) for one in library.filters):
        library.addFilter(Reticent())
    logging.getLogger("urllib3.connectionpool").setLevel(logging.INFO)


def _shown(name: str) -> str:
    return repr(name) if re.fullmatch(r"[\w .-]{1,40}", name) else "What stands as recipient"


def _status(result: Any) -> str:
    """The status of HTTP among what the library says."""
    said = " ".join(entry.message for one in result for entry in one.logs())
    found = re.search(r"\berror=(\d{3})\b", said)
    return f" (status {found[1]})" if found else ""
