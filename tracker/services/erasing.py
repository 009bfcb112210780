"""Erasing words: what somebody wrote about somebody goes for good, and the journal stays whole.

The fact stays, with its time and all that is counted from it; where the words stood, histories say
"(erased)". Who erased them, when and why is kept beside. Backups and exports that were made
before still have the words: they are to be thrown away, or made anew, by whoever keeps them.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, update

from tracker.domain.errors import CardwrightError
from tracker.services.service import Service, Who, production_row
from tracker.services.voiding import cards_there
from tracker.store import tables as t
from tracker.store.around import drives_in_use, read_around, write_around
from tracker.store.erasing import erase_words, worded, written_over
from tracker.store.projection import refold
from tracker.store.reminder_rows import forget_texts

HOLDERS = ("words", "card", "drive", "notice_message", "notice_shift")
"""The tables whose rows hold words."""


class CannotErase(CardwrightError):
    """Nothing is there to be erased. fact: the id that was given. why: what to do."""

    def __init__(self, fact: str, why: str) -> None:
        self.fact = fact
        self.why = why
        super().__init__(f"Nothing of the fact {fact} can be erased: {why}")


@dataclass(frozen=True, slots=True)
class Erased:
    """What was erased. fields: where the words stood, by their names on the wire."""

    fact: str
    fields: tuple[str, ...]


def erase(service: Service, who: Who, fact: str, reason: str) -> Erased:
    """Erase the free text and the names of people of a fact. For administrators.

    fact: its id. reason: why; it is kept, and must not say again what is erased.
    Errors: CannotErase.
    """
    fact_id = fact.lower()
    if not reason.strip():
        raise CannotErase(fact_id, "say why.")
    with service.store.writing() as conn:
        production_row(conn, locked=True)
        kept = worded(conn, fact_id)
        if kept is None:
            raise CannotErase(fact_id, "there is no such fact.")
        if kept.words is None:
            again = "its words were erased already." if kept.erased else "it has no words."
            raise CannotErase(fact_id, again)
        fields = tuple(sorted(kept.words))
        with written_over(conn):
            erase_words(conn, fact_id, fields, service.clock(), who.by, reason)
            _follow(service, conn, kept.subject, kept.kind)
            forget_texts(conn)
    service.memory.forget()
    service.store.forget_old_rows(HOLDERS)
    return Erased(fact_id, fields)


def _follow(service: Service, conn: Connection, subject: str, kind: str) -> None:
    """Make the rows anew in which the words may stand."""
    # Other processes remember cards and drives with their words, until they see another count.
    conn.execute(update(t.Production).values(context=t.Production.context + 1))
    if kind == "card" and cards_there(conn, [subject]):
        refold(conn, [subject], service.around(conn))
    elif kind == "drive":
        write_around(conn, read_around(conn, production_row(conn), drives_in_use(conn)))
