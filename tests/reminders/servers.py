"""Servers for tests, on this machine alone: one that takes mail, one that takes letters by HTTP."""

from __future__ import annotations

import ssl
import threading
from asyncio import Server
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from socket import SHUT_RDWR, create_server, socket
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

HERE = "127.0.0.1"


@dataclass
class Post:
    """A mail server's part. rcpt, data: what it answers; to be set by a test."""

    rcpt: str = "250 OK"
    data: str = "250 OK"
    taken: list[Envelope] = field(default_factory=list)

    async def handle_RCPT(
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: Any
    ) -> str:
        if self.rcpt.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.rcpt

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:
        if self.data.startswith("250"):
            self.taken.append(envelope)
        return self.data


def knows(
    _server: SMTP, _session: Session, _envelope: Envelope, _how: str, said: Any
) -> AuthResult:
    """Whether it is the one user that there is."""
    ok = isinstance(said, LoginPassword) and said == LoginPassword(b"pier", b"gull-4711")
    return AuthResult(success=ok, handled=ok)


class AnyPort(Controller):
    """Listens on a port that is free, and knows which."""

    def _trigger_server(self) -> None:
        assert isinstance(self.server, Server)
        self.port = self.server.sockets[0].getsockname()[1]
        super()._trigger_server()


@contextmanager
def mail_server(
    post: Post, *, starttls: ssl.SSLContext | None = None, tls: ssl.SSLContext | None = None
) -> Iterator[int]:
    """A mail server that answers as `post` says, over TLS if it has a certificate; its port."""
    own: dict[str, Any] = {}
    if starttls:
        own = {"tls_context": starttls, "require_starttls": True, "authenticator": knows}
    controller = AnyPort(post, hostname=HERE, port=0, ssl_context=tls, **own)
    controller.start()
    try:
        yield controller.port
    finally:
        controller.stop()


Talk = Callable[[socket], None]


@contextmanager
def talking(talk: Talk) -> Iterator[int]:
    """A server that says to each caller what `talk` makes of the connection; its port."""
    listening = create_server((HERE, 0))
    open_ones: list[socket] = []

    def serve() -> None:
        with suppress(OSError):
            while True:
                caller, _ = listening.accept()
                open_ones.append(caller)
                with suppress(OSError):
                    talk(caller)

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield int(listening.getsockname()[1])
    finally:
        for one in [listening, *open_ones]:
            with suppress(OSError):
                one.shutdown(SHUT_RDWR)
            one.close()
        thread.join()


def dying_mail_server(mails: list[bytes], *, answer_first: bool) -> Talk:
    """Takes a mail and dies: before it has answered for it, or right after."""

    def talk(caller: socket) -> None:
        with caller, caller.makefile("rwb") as line:
            line.write(b"220 here\r\n")
            line.flush()
            for said in line:
                if said.upper().startswith(b"DATA"):
                    line.write(b"354 go on\r\n")
                    line.flush()
                    mails.append(b"".join(iter(line.readline, b".\r\n")))
                    if answer_first:
                        line.write(b"250 taken\r\n")
                        line.flush()
                    return
                line.write(b"250 OK\r\n")
                line.flush()

    return talk


@dataclass
class Received:
    """What came to a receiver: path, headers in lower case, and the body."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Receiver:
    """Takes letters by HTTP. status, more: what it answers; port: where it listens."""

    status: int = 204
    more: dict[str, str] = field(default_factory=dict)
    received: list[Received] = field(default_factory=list)
    port: int = 0


@contextmanager
def receiver(
    tls: ssl.SSLContext | None = None, *, status: int = 204, more: dict[str, str] | None = None
) -> Iterator[Receiver]:
    """A receiver on this machine."""
    here = Receiver(status, more or {})

    class Takes(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            length = int(self.headers.get("Content-Length") or 0)
            headers = {name.lower(): value for name, value in self.headers.items()}
            here.received.append(
                Received(self.command, self.path, headers, self.rfile.read(length))
            )
            self.send_response(here.status)
            for name, value in here.more.items():
                self.send_header(name, value)
            self.end_headers()

        do_GET = do_POST  # noqa: N815

        def log_message(self, *_: object) -> None:
            """Nothing is told."""

    server = ThreadingHTTPServer((HERE, 0), Takes)
    server.daemon_threads = False
    if tls:
        server.socket = tls.wrap_socket(server.socket, server_side=True)
    here.port = server.server_port
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield here
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
