"""Taking the journal along: every fact, with its envelope, in the order of logging."""

from __future__ import annotations

from typing import IO

from tracker.services.service import Service, production_row
from tracker.store.journal import every_fact
from tracker.wire.codec import encode
from tracker.wire.jsonlines import write_json_line
from tracker.wire.table import write_csv_facts


def export(service: Service, to: IO[bytes], *, form: str = "jsonl") -> int:
    """Write every fact as JSON Lines or CSV; how many there were.

    What is written reads back to the same facts with `decode_envelope`. JSON Lines are written
    as they are read; a CSV needs them all at once, since its columns are those that are used.
    """
    with service.store.reading() as conn:
        production_row(conn)
        if form == "csv":
            facts = [fact for _, fact in every_fact(conn)]
            to.write(write_csv_facts(facts, envelope=True).encode())
            return len(facts)
        count = 0
        for _, fact in every_fact(conn):
            to.write(write_json_line(encode(fact, envelope=True)).encode())
            count += 1
        return count
