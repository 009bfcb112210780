"""A process that has imported everything, and forks one that serves for each line it is told.

    python -m tests.durability.forking < orders

An order is a line of JSON: {"data": FOLDER, "die": {"at": POINT, "nth": N} | null}. The child runs
`cardwright serve` as anybody would, on a port of its own; when it has ended, a line says how:
{"ended": STATUS}. With "die" it kills itself by SIGKILL when it comes to a named point for the Nth
time; without, somebody else kills it.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask, has_request_context
from sqlalchemy import Connection, event

from tracker import bootstrap
from tracker.cli.main import main
from tracker.store import journal
from tracker.store.engine import Store

POINTS = ("asked", "begun", "written", "committing", "committed", "answered")
"""Of a request: a fact came in; the transaction began; the journal has it; just before the commit;
just after; the answer is made and not sent."""


def die() -> None:
    """As a power cut would have it: no time for anything."""
    os.kill(os.getpid(), signal.SIGKILL)


class Countdown:
    """Dies when the point that it waits for is come to for the nth time."""

    def __init__(self, at: str, nth: int) -> None:
        self.at, self.left = at, nth
        self.lock = threading.Lock()

    def __call__(self, point: str) -> None:
        # What the clock of the reminders writes does not count: nobody waits for its answer.
        if point != self.at or not has_request_context():
            return
        with self.lock:
            self.left -= 1
            if self.left <= 0:
                die()


def arm(come_to: Countdown) -> None:
    """Let the program say where it is."""
    writing, add, serving = Store.writing, journal.add, bootstrap.web_app

    @contextmanager
    def watched(store: Store) -> Iterator[Connection]:
        come_to("asked")
        with writing(store) as conn:
            come_to("begun")
            if not event.contains(conn.engine, "commit", committing):
                event.listen(conn.engine, "commit", committing)
            yield conn
        come_to("committed")

    def committing(conn: Connection) -> None:
        come_to("committing")

    def added(*given: Any, **named: Any) -> Any:
        done = add(*given, **named)
        come_to("written")
        return done

    def serve(*given: Any, **named: Any) -> Flask:
        app: Flask = serving(*given, **named)

        @app.after_request
        def answered(answer: Any) -> Any:
            come_to("answered")
            return answer

        return app

    Store.writing = watched  # type: ignore[method-assign,assignment]
    journal.add = added
    _replace_everywhere(serving, serve)


def _replace_everywhere(old: Callable[..., Any], new: Callable[..., Any]) -> None:
    """Modules that took the function by its name have it, too."""
    for module in list(sys.modules.values()):
        for name, value in list(getattr(module, "__dict__", {}).items()):
            if value is old:
                setattr(module, name, new)


def serve(order: dict[str, Any]) -> None:
    """Be the service, until killed."""
    if order["die"] is not None:
        arm(Countdown(order["die"]["at"], order["die"]["nth"]))
    for name, value in order.get("environ", {}).items():
        os.environ[name] = value
    main(["serve", "--data", order["data"], "--port", "0"])


def main_loop() -> None:
    """Fork for each order, and say how it ended."""
    for line in iter(sys.stdin.readline, ""):
        child = os.fork()
        if child == 0:
            serve(json.loads(line))
        print(json.dumps({"child": child}), flush=True)
        _, status = os.waitpid(child, 0)
        print(json.dumps({"ended": os.waitstatus_to_exitcode(status)}), flush=True)


if __name__ == "__main__":
    main_loop()
