"""Who works on a SQLite file: any number of processes, or one alone that replaces it.

SQLite lets several processes write to one file, but none of them would notice that another file
was put in its place: it would go on writing into the old one.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import make_url
from sqlalchemy.exc import ArgumentError

from tracker.operations.errors import InUse

fcntl: Any
try:
    import fcntl
except ImportError:
    # Windows itself refuses to replace a file that somebody has open.
    fcntl = None

PATIENCE_S = 10.0


class Held:
    """A file that this process works on, with others or alone."""

    def __init__(self, file: Path, number: int | None) -> None:
        self.file = file
        self._number = number

    def join(self) -> None:
        """Work on it with others. Errors: InUse."""
        self._take(alone=False, patience_s=PATIENCE_S)

    @contextmanager
    def alone(self, patience_s: float = PATIENCE_S) -> Iterator[None]:
        """While it lasts nobody else works on the file. Errors: InUse."""
        self._take(alone=True, patience_s=patience_s)
        try:
            yield
        finally:
            self.join()

    def _take(self, *, alone: bool, patience_s: float) -> None:
        if fcntl is None or self._number is None:
            return
        until = time.monotonic() + patience_s
        how = fcntl.LOCK_EX if alone else fcntl.LOCK_SH
        while True:
            try:
                fcntl.flock(self._number, how | fcntl.LOCK_NB)
                return
            except BlockingIOError:
                if time.monotonic() > until:
                    raise InUse(self.file) from None
                time.sleep(0.05)


@contextmanager
def holding(file: Path) -> Iterator[Held]:
    """Work on a file as others do. Errors: InUse where somebody is alone with it."""
    try:
        number = os.open(f"{file}.lock", os.O_RDONLY | os.O_CREAT, 0o600)
    except OSError:
        # Where this cannot be written the store cannot be opened either, and says why.
        yield Held(file, None)
        return
    try:
        held = Held(file, number)
        held.join()
        yield held
    finally:
        os.close(number)


def file_of(address: str | Path) -> Path | None:
    """The SQLite file at an address; None where it is no file, or no address."""
    if isinstance(address, Path):
        return address.resolve()
    try:
        url = make_url(address)
    except ArgumentError:
        return None
    if url.get_backend_name() != "sqlite" or not url.database or url.database == ":memory:":
        return None
    return Path(url.database).resolve()
