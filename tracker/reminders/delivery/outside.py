"""Asking a host outside over HTTP: only one that is listed, and never astray.

A private address is only asked where that address itself is listed, whatever a name says: names
can be turned towards the machines on set. Redirects are not followed, and proxies not used.
"""

from __future__ import annotations

import http.client
import ipaddress
import socket
import ssl
import threading
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from tracker.channels import entry_of
from tracker.reminders.letters import NotAccepted

USUAL_PORTS: Mapping[str, int] = {"https": 443, "http": 80}
READ_BYTES = 4_096
"""How much of an answer is read; nothing in it is needed."""
PATIENCE_S = 20.0
"""How long all of one asking may take."""
NAT64 = ipaddress.ip_network("64:ff9b::/96")
COMPATIBLE = ipaddress.ip_network("::/96")
"""Addresses with another one in their last 32 bits. Source: RFC 6052 and RFC 4291, 2.5.5.1."""


@dataclass(frozen=True, slots=True)
class Target:
    """Where something goes. path: with its query; secrets may stand in it, so it is never told."""

    scheme: str
    host: str
    port: int
    path: str = field(repr=False)

    @property
    def entry(self) -> str:
        """The host as it has to stand in the list."""
        usual = self.port == USUAL_PORTS[self.scheme]
        return entry_of(self.host, None if usual else self.port)


def target_of(address: str) -> Target:
    """An address, taken apart. Errors: NotAccepted, for good, if it is none."""
    try:
        if not (address.isascii() and address.isprintable() and " " not in address):
            raise ValueError("letters that have no place in an address")
        found = urlsplit(address)
        port = found.port or USUAL_PORTS[found.scheme]
        if not found.hostname or found.username is not None or found.fragment:
            raise ValueError("no host, or more than an address")
    except (ValueError, KeyError):
        raise NotAccepted(
            "The address is none that can be sent to; expected one as https://host/path.",
            permanent=True,
        ) from None
    path = (found.path or "/") + (f"?{found.query}" if found.query else "")
    return Target(found.scheme, found.hostname, port, path)


def entry_for(target: Target, listed: Collection[str]) -> str:
    """The entry of the list that allows a target. Errors: NotAccepted."""
    entry = target.entry
    with_port = entry_of(target.host, target.port)
    for one in (entry, with_port):
        if one in listed:
            return one
    raise NotAccepted(
        f"{entry} is not on the list of hosts that may be sent to. "
        f"Whoever runs the service can add it: cardwright channels set webhook {entry}"
    )


def ask(
    target: Target,
    listed: Collection[str],
    *,
    method: str = "POST",
    headers: Mapping[str, str] | None = None,
    body: bytes | None = None,
    patience_s: float = PATIENCE_S,
) -> int:
    """The status with which a target answers. listed: as of `entry_for`, which is asked here too.

    Errors: NotAccepted if it may not be asked, cannot be reached, or takes too long.
    """
    entry_for(target, listed)
    asked = False
    try:
        with _connected(target, listed, patience_s) as sock:
            asking = http.client.HTTPConnection(target.host, target.port)
            asking.sock = sock
            asking.request(method, target.path, body, dict(headers or {}))
            asked = True
            answer = asking.getresponse()
            answer.read(READ_BYTES)
            return answer.status
    except (OSError, http.client.HTTPException, ValueError) as error:
        # What the error says may hold what was asked, with its secrets.
        raise NotAccepted(f"{target.entry} {_in_words(error)}.", unsure=asked) from None


def _in_words(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return "did not answer in time"
    if isinstance(error, socket.gaierror):
        return "is a name that cannot be found"
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"has no certificate to be trusted ({error.verify_message})"
    if isinstance(error, ConnectionRefusedError):
        return "refuses the connection"
    if isinstance(error, OSError):
        return "cannot be reached, or broke off"
    return "answered with what is not HTTP"


@contextmanager
def _connected(
    target: Target, listed: Collection[str], patience_s: float
) -> Iterator[socket.socket]:
    """A connection to an address that was looked at: the name is not asked a second time."""
    found = socket.getaddrinfo(target.host, target.port, type=socket.SOCK_STREAM)
    family, kind, proto, _, where = _allowed(target, found, listed)
    with socket.socket(family, kind, proto) as plain, ending(lambda: held[0], patience_s):
        held = [plain]
        plain.settimeout(patience_s)
        plain.connect(where)
        if target.scheme == "https":
            context = ssl.create_default_context()
            held[0] = context.wrap_socket(plain, server_hostname=target.host)
        try:
            yield held[0]
        finally:
            held[0].close()


Found = tuple[socket.AddressFamily, socket.SocketKind, int, str, tuple[object, ...]]


def _allowed(target: Target, found: Collection[Found], listed: Collection[str]) -> Found:
    """The first address of a name that may be asked. Errors: NotAccepted."""
    for one in found:
        address = str(one[4][0]).partition("%")[0]
        literally = bool({entry_of(address, None), entry_of(address, target.port)} & set(listed))
        if literally or (target.scheme == "https" and is_public(address)):
            return one
    if any(is_public(str(one[4][0]).partition("%")[0]) for one in found):
        raise NotAccepted(f"{target.entry} is only sent to over https.")
    raise NotAccepted(
        f"{target.entry} is at a private address; that may be sent to only if the address itself "
        "is on the list of hosts."
    )


def is_public(address: str) -> bool:
    """Whether an address is one of the open internet, also where another is wrapped in it."""
    ip = ipaddress.ip_address(address)
    if isinstance(ip, ipaddress.IPv6Address):
        inner = ip.ipv4_mapped or ip.sixtofour
        if ip in NAT64 or (ip in COMPATIBLE and int(ip) > 1):
            inner = ipaddress.IPv4Address(int(ip) & 0xFFFF_FFFF)
        if inner is not None:
            return is_public(str(inner))
    return ip.is_global and not ip.is_multicast


@contextmanager
def ending(sock: Callable[[], socket.socket | None], after_s: float) -> Iterator[None]:
    """Break a connection off after a time, so that no peer can hold us by single bytes."""

    def end() -> None:
        if (held := sock()) is not None:
            with suppress(OSError):
                # Of the plain class: a TLS socket's own would take its state from the other thread.
                socket.socket.shutdown(held, socket.SHUT_RDWR)

    timer = threading.Timer(after_s, end)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
