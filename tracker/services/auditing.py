"""Proving that what is kept is what was logged, and putting it right where it is not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, delete, update

from tracker.domain.errors import CardwrightError
from tracker.domain.fold import FOLD_VERSION
from tracker.services.service import Service, production_row
from tracker.store import queries
from tracker.store import tables as t
from tracker.store.audit import Finding, verify_chains
from tracker.store.checkpoints import checkpoint_of, verify_against
from tracker.store.comparing import Difference, differences
from tracker.store.expected import expected_rows
from tracker.store.rows import put_many
from tracker.wire.checkpoint import Checkpoint

FOLLOWING = (t.Copy, t.Mishap, t.Roll, t.Label, t.Use, t.Card, t.Drive, t.Camera)
"""The tables whose rows follow from the journal, those that point to others first."""


class NotWhole(CardwrightError):
    """Nothing is made from a journal that is not whole. findings: what is wrong with it."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        more = f" (and {len(findings) - 1} more)" if len(findings) > 1 else ""
        super().__init__(
            f"the journal is not whole: {findings[0]}{more}; restore a backup from before, "
            "or ask for help with this file as it is"
        )


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit found.

    findings: what is wrong with the journal's chains. differences: rows that are not what the
    journal says; None where nobody can tell, since the journal is not whole.
    """

    findings: tuple[Finding, ...]
    differences: tuple[Difference, ...] | None

    @property
    def sound(self) -> bool:
        """Whether the journal is whole and every row agrees with it."""
        return not self.findings and self.differences == ()


def audit(service: Service, against: Checkpoint | None = None) -> Audit:
    """Verify every chain, fold the journal anew, and compare every row with it. Writes nothing.

    against: a checkpoint that was kept elsewhere, whose heads must still be there.
    """
    with service.store.reading() as conn:
        production_row(conn)
        findings = tuple(verify_chains(conn))
        if against is not None:
            findings += tuple(verify_against(conn, against))
        return Audit(findings, None if findings else tuple(differences(conn)))


def checkpoint(service: Service) -> Checkpoint:
    """What the heads of all chains are now. Errors: NotWhole, NotSetUp."""
    with service.store.reading() as conn:
        production_row(conn)
        findings = list(verify_chains(conn))
        if findings:
            raise NotWhole(findings)
        return checkpoint_of(conn, service.clock())


def rebuild(service: Service) -> list[str]:
    """Make all rows anew from the journal, in one transaction.

    Gives the labels of the cards whose status or mishaps are others now.
    Errors: NotWhole, and nothing is changed.
    """
    with service.store.writing() as conn:
        production_row(conn, locked=True)
        findings = list(verify_chains(conn))
        if findings:
            raise NotWhole(findings)
        before = _standing(conn)
        for following in FOLLOWING:
            conn.execute(delete(following))
        for piece in expected_rows(conn):
            for of, rows in piece.rows.items():
                put_many(conn, of, rows)
        conn.execute(update(t.Production).values(fold_version=FOLD_VERSION))
        after = _standing(conn)
    service.memory.forget()
    return sorted(label for label in {**before, **after} if before.get(label) != after.get(label))


def _standing(conn: Connection) -> Mapping[str, Counter[tuple[str | None, ...]]]:
    """By label: the status, and every mishap that stands."""
    standing: dict[str, Counter[tuple[str | None, ...]]] = {}
    for card in queries.cards(conn):
        standing.setdefault(card.label, Counter())["status", card.status] += 1
    for m in queries.mishaps(conn):
        standing.setdefault(m.card, Counter())[m.kind, m.roll, m.drive, m.fact] += 1
    return standing
