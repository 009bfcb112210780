"""The cast, and how a test tells a story.

Cards S-014, S-015, S-016; drives RAID, SHUTTLE (on set) and VAULT (off site); cameras A and B;
Kim (data manager), Lee (loader), Noor (production office).

A story is a chain of facts: `story("S-014").loaded("A", "A001", formatted=True).pulled(gb=480)`.
Each happens ten minutes after the one before, or `at="14:05"`; after `.late("14:05")` the next
one happened then, and is logged only now. Facts are history unless the story is `.live()`.
The id of a fact is its event and a number: the second load is "loaded 2".
"""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, time, timedelta, tzinfo
from typing import Any, Self

from tracker.domain import facts as f
from tracker.domain.card import CardState
from tracker.domain.fold import Production, fold_production
from tracker.domain.rolls import Roll
from tracker.domain.rule import BackupRule
from tracker.domain.status import CardView

DRIVES: dict[str, tuple[f.DriveKind, f.DrivePlace]] = {
    "RAID": ("raid", "on set"),
    "SHUTTLE": ("ssd", "on set"),
    "VAULT": ("hdd", "off site"),
}
KIM, LEE, NOOR = "Kim", "Lee", "Noor"
GB = 10**9
PROOF = "5e" * 32
TWO_COPIES = BackupRule(copies=2, level="checksummed")
FIRST_DAY = datetime(2026, 3, 2, 8, 0)  # noqa: DTZ001 - the zone is the production's

Stands = tuple[str, list[tuple[str, str | None]]]


def story(label: str = "S-014", *, rule: BackupRule | None = TWO_COPIES, **card: Any) -> Story:
    """A production of which one card is told. card: fields of its registration."""
    return production(rule=rule).card(label, **card)


def production(
    *,
    rule: BackupRule | None = TWO_COPIES,
    zone: tzinfo = UTC,
    readable: frozenset[str] | None = None,
) -> Story:
    """A production with its three drives, and no card yet."""
    return Story(rule, zone, readable)


class Story:
    """The facts told so far, and what they make true of the card that is being told of."""

    def __init__(
        self, rule: BackupRule | None, zone: tzinfo, readable: frozenset[str] | None
    ) -> None:
        self.facts: list[f.Fact] = []
        self._fold: dict[str, Any] = {"rule": rule, "zone": zone, "readable": readable}
        self._zone = zone
        self._clock = FIRST_DAY.replace(tzinfo=zone).astimezone(UTC)
        self._late: datetime | None = None
        self._source: f.Source = "history"
        self._count: Counter[str] = Counter()
        self._label = ""
        for drive, (kind, place) in DRIVES.items():
            self.drive_registered(drive, kind, place)

    # How it is told

    def card(self, label: str, *, register: bool = True, **registered: Any) -> Self:
        """Go on with this card, which is registered when it is first told of."""
        self._label = label
        known = any(isinstance(fact, f.Registered) and fact.card == label for fact in self.facts)
        if register and not known:
            self.registered(**registered)
        return self

    def live(self) -> Self:
        self._source = "live"
        return self

    def history(self) -> Self:
        self._source = "history"
        return self

    def sent(self) -> Self:
        self._source = "sent"
        return self

    def day(self, number: int) -> Self:
        """Go on at 08:00 of the shooting day with this number."""
        wall = FIRST_DAY + timedelta(days=number - 1, minutes=-10)
        self._clock = wall.replace(tzinfo=self._zone).astimezone(UTC)
        return self

    def late(self, at: str) -> Self:
        """The next fact happened at a time of this day that is over, and is logged only now."""
        self._late = self._at(at)
        return self

    def tell(
        self, kind: type[f.Fact], at: str | None = None, /, *, moves: bool = True, **fields: Any
    ) -> Self:
        """One more fact. moves: whether time goes by."""
        happened, self._late = self._late, None
        if happened is None:
            step = timedelta(minutes=10 if moves else 0)
            happened = self._at(at) if at else self._clock + step
            assert happened >= self._clock, "time goes on: say late()"
            self._clock = happened
        self._count[kind.event] += 1
        if issubclass(kind, f.CardFact):
            fields = {"card": self._label} | fields
        fact = kind(
            id=f"{kind.event} {self._count[kind.event]}",
            occurred_at=happened,
            logged_at=self._clock + timedelta(microseconds=len(self.facts)),
            origin="here",
            source=self._source,
            **fields,
        )
        self.facts.append(fact)
        return self

    def _at(self, clock: str) -> datetime:
        today = self._clock.astimezone(self._zone).date()
        wall = datetime.combine(today, time.fromisoformat(clock), self._zone)
        return wall.astimezone(UTC)

    # What stands

    @property
    def production(self) -> Production:
        return fold_production(self.facts, **self._fold)

    def view(self) -> CardView:
        """The card as it stands, by the label that it has now."""
        return next(view for view in self.production.views() if view.label == self._label)

    @property
    def state(self) -> CardState:
        return self.view().state

    @property
    def status(self) -> str:
        return self.view().status

    @property
    def mishaps(self) -> list[tuple[str, str | None]]:
        """What stands against the card: kind and roll."""
        view = self.view()
        rolls = view.state.rolls
        made = [(m.key.kind, m.key.roll and rolls[m.key.roll].name) for m in view.mishaps]
        return sorted(made, key=lambda mishap: (mishap[0], mishap[1] or ""))

    @property
    def stands(self) -> Stands:
        """The whole of it: the status, and what stands against the card."""
        return self.status, self.mishaps

    @property
    def holds(self) -> list[str]:
        return _names(self.view().holds)

    @property
    def uncovered(self) -> list[str]:
        return _names(self.view().uncovered)

    @property
    def below(self) -> list[str]:
        return _names(self.view().below)

    def roll(self, name: str) -> Roll:
        """The roll that goes by a name."""
        return next(roll for roll in self.state.rolls.values() if roll.name == name)

    # What happens to a card, in the usual order

    def shot(self, roll: str | None, gb: float | None = 480, camera: str = "A") -> Self:
        """Loaded with a format, and pulled."""
        return self.loaded(camera, roll, formatted=True).pulled(gb=gb)

    def backed_up(self, roll: str | None = None) -> Self:
        """Two copies of what is not covered, each checked against its manifest."""
        self.finished("RAID", roll=roll).checked("RAID", roll=roll)
        return self.finished("SHUTTLE", roll=roll).checked("SHUTTLE", roll=roll)

    def registered(
        self, media: str = "2.5in SSD", capacity_gb: float = 1000, **fields: Any
    ) -> Self:
        size = _bytes(capacity_gb)
        return self.tell(f.Registered, moves=False, media=media, capacity_bytes=size, **fields)

    def checked_in(self, found: str, at: str | None = None) -> Self:
        return self.tell(f.CheckedIn, at, found=found)

    def relabelled(self, new_label: str, at: str | None = None) -> Self:
        """The story goes on with the new label."""
        self.tell(f.Relabelled, at, new_label=new_label)
        self._label = new_label
        return self

    def loaded(
        self, camera: str, roll: str | None = None, at: str | None = None, **fields: Any
    ) -> Self:
        return self.tell(f.Loaded, at, camera=camera, roll=roll, **fields)

    def formatted(
        self, where: str = "camera", camera: str | None = None, at: str | None = None, **fields: Any
    ) -> Self:
        return self.tell(f.Formatted, at, where=where, camera=camera, **fields)

    def pulled(self, gb: float | None = None, at: str | None = None, **fields: Any) -> Self:
        return self.tell(f.Pulled, at, bytes=_bytes(gb), **fields)

    def handed_over(
        self, place: str = "cart", to: str = KIM, at: str | None = None, **fields: Any
    ) -> Self:
        return self.tell(f.HandedOver, at, place=place, to=to, **fields)

    def started(self, drive: str, at: str | None = None, **fields: Any) -> Self:
        return self.tell(f.CopyStarted, at, drive=drive, **fields)

    def finished(
        self, drive: str, gb: float | None = None, at: str | None = None, **fields: Any
    ) -> Self:
        return self.tell(f.CopyFinished, at, drive=drive, bytes=_bytes(gb), **fields)

    def checked(
        self,
        drive: str,
        level: f.Level = "checksummed",
        at: str | None = None,
        proof: str | None = PROOF,
        **fields: Any,
    ) -> Self:
        return self.tell(f.CopyChecked, at, drive=drive, level=level, proof=proof, **fields)

    def failed(
        self, drive: str, reason: str = "interrupted", at: str | None = None, **fields: Any
    ) -> Self:
        return self.tell(f.CopyFailed, at, drive=drive, reason=reason, **fields)

    def copy_lost(self, drive: str, at: str | None = None, **fields: Any) -> Self:
        return self.tell(f.CopyLost, at, drive=drive, reason="folder deleted", **fields)

    def renamed(self, roll: str, new_name: str) -> Self:
        return self.tell(f.RollRenamed, roll=roll, new_name=new_name)

    def declared_empty(self, roll: str) -> Self:
        return self.tell(f.DeclaredEmpty, roll=roll)

    def written_off(self, roll: str) -> Self:
        return self.tell(f.WrittenOff, roll=roll, authorised_by=NOOR, reason="camera test")

    def received(self, roll: str, verdict: str) -> Self:
        return self.tell(f.Received, roll=roll, received_from="the lab", verdict=verdict)

    def cleared(self, at: str | None = None) -> Self:
        return self.tell(f.Cleared, at)

    def overridden(self) -> Self:
        """Cleared against the rule: why, who authorises it, and what is promised."""
        return self.tell(
            f.Cleared,
            override_reason="no other card for the night shoot",
            authorised_by=NOOR,
            promise="a second copy",
            promise_by=KIM,
            promise_until=self._clock + timedelta(hours=12),
        )

    def clearing_withdrawn(self) -> Self:
        return self.tell(f.ClearingWithdrawn, reason="a take is in doubt")

    def set_aside(self, reason: str = "pins look bent") -> Self:
        return self.tell(f.SetAside, reason=reason)

    def returned_to_service(self) -> Self:
        return self.tell(f.ReturnedToService, reason="looked at, good")

    def damaged(self, severity: int, part: str = "connector") -> Self:
        return self.tell(f.DamageNoted, part=part, severity=severity, text="dropped")

    def damage_settled(self, damage: str) -> Self:
        return self.tell(f.DamageSettled, damage=damage, text="cleaned")

    def health_read(self, verdict: str, **fields: Any) -> Self:
        return self.tell(f.HealthRead, tool="reader", verdict=verdict, **fields)

    def retired(self, reason: str = "worn") -> Self:
        return self.tell(f.Retired, reason=reason)

    def reported_missing(self) -> Self:
        return self.tell(f.ReportedMissing)

    def found(self) -> Self:
        return self.tell(f.Found)

    def settled(self, target: str, mishap: str, **fields: Any) -> Self:
        return self.tell(f.Settled, target=target, mishap=mishap, reason="seen to", **fields)

    def noted(self, text: str) -> Self:
        return self.tell(f.Noted, text=text)

    def voids(self, target: str, *, drive: str | None = None, production: bool = False) -> Self:
        """Take a fact of this card (or of a drive, or of the production) back."""
        if production:
            return self.tell(f.ProductionVoided, target=target, reason="slip")
        if drive is not None:
            return self.tell(f.DriveVoided, drive=drive, target=target, reason="slip")
        return self.tell(f.Voided, target=target, reason="slip")

    # What happens to drives, and to the production

    def drive_registered(
        self, drive: str, kind: f.DriveKind, place: f.DrivePlace = "on set", **fields: Any
    ) -> Self:
        size = 20_000 * GB
        return self.tell(
            f.DriveRegistered,
            moves=False,
            drive=drive,
            kind=kind,
            place=place,
            capacity_bytes=size,
            **fields,
        )

    def drive_moved(self, drive: str, place: f.DrivePlace) -> Self:
        return self.tell(f.DriveMoved, drive=drive, place=place)

    def drive_emptied(self, drive: str) -> Self:
        return self.tell(f.DriveEmptied, drive=drive)

    def drive_failed(self, drive: str) -> Self:
        return self.tell(f.DriveFailed, drive=drive)

    def drive_lost(self, drive: str) -> Self:
        return self.tell(f.DriveLost, drive=drive)

    def drive_found(self, drive: str) -> Self:
        return self.tell(f.DriveFound, drive=drive)

    def drive_returned(self, drive: str) -> Self:
        return self.tell(f.DriveReturned, drive=drive)

    def proof_kept(self, sha256: str = PROOF) -> Self:
        return self.tell(f.ProofKept, sha256=sha256, kind="manifest", bytes=4_096)

    def rule_set(self, copies: int, level: f.Level = "checksummed", **fields: Any) -> Self:
        return self.tell(f.RuleSet, copies=copies, level=level, **fields)


def _bytes(gb: float | None) -> int | None:
    return None if gb is None else round(gb * GB)


def _names(rolls: tuple[Roll, ...]) -> list[str]:
    return [roll.name for roll in rolls]
