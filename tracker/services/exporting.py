"""Taking the journal along: every fact, with its envelope, in the order of logging."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from pathlib import Path
from typing import IO, Any, Literal

from sqlalchemy import Connection

from tracker.domain.facts import Fact, Source
from tracker.services.looking import card_by_label
from tracker.services.service import Service, production_row
from tracker.store.journal import every_fact, every_link
from tracker.wire.codec import encode
from tracker.wire.jsonlines import write_json_line
from tracker.wire.table import write_csv_facts

Form = Literal["jsonl", "csv"]


def export(
    service: Service,
    to: IO[bytes] | Path,
    *,
    form: str = "jsonl",
    cards: Collection[str] | None = None,
    sources: Collection[Source] | None = None,
    chains: bool = False,
) -> int:
    """Write facts as JSON Lines or CSV; how many there were.

    What is written reads back to the same facts with `decode_envelope`. JSON Lines are written
    as they are read; a CSV needs them all at once, since its columns are those that are used.

    cards: only what is about the cards that have, or last had, these labels. sources: only what
    came so. chains: with subject, seq, prev and hash, for whoever verifies the chains elsewhere;
    JSON Lines only, and not to be read by `decode_envelope`.
    Errors: UnknownLabel; ValueError for chains in a CSV.
    """
    if chains and form == "csv":
        raise ValueError("chains are written as JSON Lines only")
    if isinstance(to, Path):
        with to.open("wb") as file:
            return export(service, file, form=form, cards=cards, sources=sources, chains=chains)
    with service.store.reading() as conn:
        production_row(conn)
        ids = None if cards is None else {card_by_label(conn, label) for label in cards}
        told = _told(conn, ids, sources, chains=chains)
        if form == "csv":
            facts = [fact for fact, _ in told]
            to.write(write_csv_facts(facts, envelope=True).encode())
            return len(facts)
        count = 0
        for fact, link in told:
            to.write(write_json_line({**encode(fact, envelope=True), **link}).encode())
            count += 1
        return count


def _told(
    conn: Connection,
    ids: Collection[str] | None,
    sources: Collection[Source] | None,
    *,
    chains: bool,
) -> Iterator[tuple[Fact, dict[str, Any]]]:
    """The facts that are wanted, each with its place in its chain if that is, too."""
    links = every_link(conn) if chains else ((s, fact, {}) for s, fact in every_fact(conn))
    for subject, fact, link in links:
        if (ids is None or subject in ids) and (sources is None or fact.source in sources):
            yield fact, link
