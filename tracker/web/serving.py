"""Serving an application over HTTP until it is told to stop: one process, a few threads."""

from __future__ import annotations

import logging
import signal
import time
from collections.abc import Callable
from types import FrameType
from typing import Any, NoReturn

from flask import Flask
from waitress import create_server, wasyncore
from waitress.channel import HTTPChannel

from tracker.web.app import LARGEST_BODY_BYTES

THREADS = 8
PATIENCE_S = 30
"""How long running requests may take after the signal to stop."""


def serve(app: Flask, host: str, port: int, *, ready: Callable[[int], None]) -> None:
    """Serve until SIGTERM or SIGINT; running requests finish first.

    ready: called with the port, once connections are taken; port 0 takes any that is free.
    Errors: OSError if the address cannot be used.
    """
    # A burst of requests waits for a thread: that is what the queue is for.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    signal.signal(signal.SIGTERM, _stop)
    signal.signal(signal.SIGINT, _stop)
    sockets: dict[int, Any] = {}
    server = create_server(
        app,
        map=sockets,
        host=host,
        port=port,
        threads=THREADS,
        ident="Cardwright",
        # The application answers what is too large, in its own words; this only bounds it.
        max_request_body_size=4 * LARGEST_BODY_BYTES,
    )
    ready(getattr(server, "effective_port", port))
    server.run()
    # By itself it waits five seconds for running requests, and then drops them.
    server.task_dispatcher.shutdown(timeout=PATIENCE_S)
    _send_what_is_left(sockets)


def _stop(_signal: int, _frame: FrameType | None) -> NoReturn:
    # The server drops what runs on SIGTERM, and finishes it on this.
    raise KeyboardInterrupt


def _send_what_is_left(sockets: dict[int, Any]) -> None:
    """Send answers that are ready but did not fit into a socket's own buffer."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        unsent = {
            number: channel
            for number, channel in sockets.items()
            if isinstance(channel, HTTPChannel) and channel.connected and channel.total_outbufs_len
        }
        if not unsent:
            return
        wasyncore.poll(0.1, unsent)
