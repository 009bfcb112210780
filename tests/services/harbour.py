"""An invented production, Harbour, on a real database, under a clock that only a test moves.

Cards S-014, S-015, S-016; drives RAID, SHUTTLE (on set) and VAULT (off site); camera A with one
slot, B with two. Kim is the data manager, Lee the loader with a phone, CART a cart computer.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func, select

from tracker.domain.facts import Fact
from tracker.domain.rule import BackupRule
from tracker.services import acts_card, acts_copies, acts_day, acts_drive
from tracker.services.auditing import audit
from tracker.services.logging import log_live
from tracker.services.production import set_up
from tracker.services.service import Service, Who, new_id
from tracker.store import journal, queries
from tracker.store import tables as t
from tracker.store.engine import Store

GB = 10**9
PROOF = "5e" * 32
KIM = Who(by="kim")
LEE = Who(by="lee", device="phone of Lee")
CART = Who(by="kim", device="cart", reader=True)
FIRST_DAY = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@dataclass
class Clock:
    """Frozen, until it is told how much time goes by."""

    now: datetime = FIRST_DAY

    def __call__(self) -> datetime:
        return self.now

    def wait(self, minutes: float = 10) -> None:
        self.now += timedelta(minutes=minutes)

    def ago(self, minutes: float) -> datetime:
        return self.now - timedelta(minutes=minutes)


@dataclass
class Harbour:
    """The service, its clock, and what a test asks of the rows."""

    service: Service
    clock: Clock

    def card(self, label: str) -> Any:
        """The card as it stands."""
        with self.service.store.reading() as conn:
            return next(row for row in queries.cards(conn) if row.label == label)

    def labels(self) -> list[str]:
        with self.service.store.reading() as conn:
            return [row.label for row in queries.cards(conn)]

    def status(self, label: str) -> str:
        return str(self.card(label).status)

    def holds(self, label: str) -> str:
        return str(self.card(label).holds)

    def mishaps(self, label: str) -> list[tuple[str, str | None]]:
        with self.service.store.reading() as conn:
            return [(m.kind, m.roll) for m in queries.mishaps(conn) if m.card == label]

    def facts(self, label: str) -> list[Fact]:
        """All facts of a card, in the order of logging."""
        with self.service.store.reading() as conn:
            card_id = conn.scalar(select(t.Card.id).where(t.Card.label == label)) or ""
            return journal.facts_of(conn, [card_id])[card_id]

    def count(self) -> int:
        """How many facts the journal holds."""
        with self.service.store.reading() as conn:
            return conn.scalar(select(func.count()).select_from(t.Entry)) or 0

    def checked(self, label: str, *drives: str) -> None:
        """Copies of a card are made, and checked against their manifest, ten minutes later."""
        self.clock.wait()
        for drive in drives:
            acts_copies.copy_checked(self.service, CART, label, drive, "checksummed", proof=PROOF)

    def agrees(self) -> bool:
        """Whether every row is what a rebuild from the journal would make."""
        found = audit(self.service)
        assert found.sound, [str(one) for one in [*found.findings, *(found.differences or ())]]
        return True


def begin(store: Store, clock: Clock) -> Harbour:
    """Harbour on its first morning: two copies, checksummed, before a card is formatted."""
    service = Service(store, clock)
    set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5), BackupRule(2))
    acts_day.set_camera(service, KIM, "A", "main")
    acts_day.set_camera(service, KIM, "B", "main", slots=2)
    acts_drive.register_drive(service, KIM, "RAID", "raid", 64_000 * GB, "on set")
    acts_drive.register_drive(service, KIM, "SHUTTLE", "ssd", 8_000 * GB, "on set")
    acts_drive.register_drive(service, KIM, "VAULT", "hdd", 20_000 * GB, "off site")
    for label in ("S-014", "S-015", "S-016"):
        acts_card.register_card(service, KIM, label, "2.5in SSD", 1_000 * GB, case="blue")
        acts_card.check_in(service, KIM, label, "empty")
    kept = {"id": new_id(), "event": "proof_kept", "occurred_at": clock.now.isoformat()}
    log_live(service, [{**kept, "sha256": PROOF, "kind": "manifest", "bytes": 4096}], who=CART)
    clock.wait()
    return Harbour(service, clock)
