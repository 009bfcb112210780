"""The demo production for a test: large enough that what only shows in large data shows."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tracker.cli.demo import _production
from tracker.services.service import Service


@contextmanager
def demo(scratch: Path) -> Iterator[Service]:
    """Six weeks of an invented production in a folder, under its own clock."""
    with _production(scratch) as service:
        yield service
