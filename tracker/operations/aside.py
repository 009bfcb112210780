"""Reading everything without standing in anybody's way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tracker.operations.files import need_room, scratch, size_of
from tracker.services.service import Service
from tracker.store.copying import copy_sqlite
from tracker.store.engine import open_store


@contextmanager
def aside(service: Service) -> Iterator[Service]:
    """A service to read the whole journal from, for as long as that takes.

    In journal mode delete whoever writes waits for whoever reads: there it is a copy, thrown away
    afterwards. Errors: NoRoom, OSError.
    """
    if service.store.journal_mode != "delete":
        yield service
        return
    with service.store.reading() as conn:
        file = Path(str(conn.engine.url.database))
    with scratch(file.parent, "audit") as place:
        need_room(place, size_of(file))
        copy_sqlite(service.store, place / "copy.db")
        store = open_store(place / "copy.db")
        try:
            yield Service(store, service.clock)
        finally:
            store.close()
