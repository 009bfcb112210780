"""The facts of the journal: what happened, when, and who may be believed about the time.

A fact is frozen, in the past tense, and never edited: a mistake is voided by a later fact. The
fields of each are those of the wire (one class an event); what a field means is said where it is
not plain. Optional fields are None where nobody said: unknown is an answer.

Units: sizes are bytes (integers), durations are seconds, rates are bytes per second, endurance is
in terabytes of 10**12 bytes, temperatures are degrees Celsius. Times are aware datetimes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, ClassVar, Literal

Source = Literal["live", "history", "sent"]
Level = Literal["claimed", "listed", "checksummed", "reread"]
LoadedAs = Literal["main", "continues", "mirror", "proxy"]
FileSystem = Literal["exfat", "fat32", "hfs+", "apfs", "ntfs", "udf", "other"]
DriveKind = Literal["ssd", "hdd", "raid", "tape", "other"]
DrivePlace = Literal["on set", "near set", "in transit", "off site", "lab", "other"]
CardPlace = Literal[
    "camera crew", "cart", "driver", "lab", "office", "other unit", "rental house", "other"
]
FailReason = Literal["interrupted", "unreadable", "short", "differs", "other"]
BodyPart = Literal[
    "connector", "casing", "edge", "screw mount", "label", "contacts", "write-protect slide"
]
Verdict = Literal["good", "watch", "failing", "unreadable"]

LEVELS: tuple[Level, ...] = ("claimed", "listed", "checksummed", "reread")
"""Check levels, the weakest first: what each means stands in the README."""

Moment = tuple[datetime, datetime, str, str]
"""Where a fact stands in the order of what happened: (occurred_at, logged_at, origin, id)."""

START: Moment = (datetime.min.replace(tzinfo=UTC), datetime.min.replace(tzinfo=UTC), "", "")
END: Moment = (datetime.max.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC), "", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """What every fact carries.

    occurred_at: when it happened, as corrected for the device's clock.
    logged_at: when the service took it; strictly increasing within an origin.
    origin: the service that logged it first.
    source: live (a person tapped it), history (a paper log, taken as it stands), sent (another
        service's journal).
    clamped: the device claimed a time that it may not claim, and it was moved.
    by, device: who was signed in, and on what. tapped_by: who tapped, if that is another.
    raw_occurred_at: the time as the device gave it, where it was corrected.
    """

    event: ClassVar[str] = ""

    id: str
    occurred_at: datetime
    logged_at: datetime
    origin: str
    source: Source = "live"
    clamped: bool = False
    by: str | None = None
    device: str | None = None
    tapped_by: str | None = None
    raw_occurred_at: datetime | None = None


def moment(fact: Fact) -> Moment:
    """The place of a fact in the order of what happened; never reassigned, unique."""
    return (fact.occurred_at, fact.logged_at, fact.origin, fact.id)


# What happens to a card


@dataclass(frozen=True, slots=True, kw_only=True)
class CardFact(Fact):
    """A fact about one card.

    card: the label as it was said. card_id: the card that had it then, once that is known.
    """

    card: str
    card_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Registered(CardFact):
    """A card came into the pool, or a visiting one passes through. What is on it is unknown."""

    event: ClassVar[str] = "registered"
    media: str
    capacity_bytes: int
    maker_model: str | None = None
    serial: str | None = None
    endurance_tb: float | None = None
    sustained_write_bytes_per_s: int | None = None
    owner: str | None = None
    case: str | None = None
    visiting: bool = False
    purchase: str | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedIn(CardFact):
    """Somebody looked at what is on the card."""

    event: ClassVar[str] = "checked_in"
    found: Literal["empty", "footage"]
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Relabelled(CardFact):
    """The card carries another label from now on."""

    event: ClassVar[str] = "relabelled"
    new_label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded(CardFact):
    """The card went into a camera.

    loaded_as (`as` on the wire): mirror is the same pictures as the main card of that camera.
    formatted: formatted in that camera at once, the usual order on set.
    """

    event: ClassVar[str] = "loaded"
    camera: str
    slot: int | None = None
    roll: str | None = None
    loaded_as: LoadedAs = "main"
    formatted: bool = False
    file_system: FileSystem | None = None
    body: str | None = None
    recording: str | None = None
    guessed_roll: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Formatted(CardFact):
    """The card was wiped: in a camera, on a computer, or before it goes back (`return`)."""

    event: ClassVar[str] = "formatted"
    where: Literal["camera", "computer", "return"]
    camera: str | None = None
    file_system: FileSystem | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulled(CardFact):
    """The card came out of the camera.

    measured: counted by a reader, not typed from the camera's display.
    unmounted: False when somebody says that it was pulled without unmounting.
    """

    event: ClassVar[str] = "pulled"
    bytes: int | None = None
    clips: int | None = None
    seconds: float | None = None
    measured: bool = False
    unmounted: bool | None = None
    scenes: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOver(CardFact):
    """The card changed hands. outside: out of the production."""

    event: ClassVar[str] = "handed_over"
    to: str
    place: CardPlace
    outside: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyFact(CardFact):
    """A fact about a copy: of one roll, or of the rolls that the rules say where none is named.

    roll_id: the id of the fact that opened the roll; it decides where it is given.
    """

    drive: str
    roll: str | None = None
    roll_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyStarted(CopyFact):
    """A copy began. made_from (`from` on the wire): a drive's label; None is the card."""

    event: ClassVar[str] = "copy_started"
    made_from: str | None = None
    cart: str | None = None
    reader: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyFinished(CopyFact):
    """A copy is on the drive, and a person says that it is good: `claimed`."""

    event: ClassVar[str] = "copy_finished"
    made_from: str | None = None
    bytes: int | None = None
    files: int | None = None
    clips: int | None = None
    seconds: float | None = None
    measured: bool = False
    cart: str | None = None
    reader: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyChecked(CopyFact):
    """A copy was checked. proof: the SHA-256 of the manifest or listing that shows it."""

    event: ClassVar[str] = "copy_checked"
    level: Level
    proof: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyFailed(CopyFact):
    """A copy went wrong. unreadable: the card could not be read."""

    event: ClassVar[str] = "copy_failed"
    reason: FailReason
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyLost(CopyFact):
    """A copy is gone while its drive is not."""

    event: ClassVar[str] = "copy_lost"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RollRenamed(CardFact):
    """The camera's own reel name rules; to the same name, it confirms a guess."""

    event: ClassVar[str] = "roll_renamed"
    roll: str
    new_name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredEmpty(CardFact):
    """A data manager says that nothing was shot on a roll."""

    event: ClassVar[str] = "declared_empty"
    roll: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenOff(CardFact):
    """A roll need not be kept (camera test, false start)."""

    event: ClassVar[str] = "written_off"
    roll: str
    authorised_by: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Received(CardFact):
    """Post has looked at a roll. received_from is `from` on the wire."""

    event: ClassVar[str] = "received"
    roll: str
    received_from: str
    verdict: Literal["good", "bad"]
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleared(CardFact):
    """A data manager says that the card may be formatted, in the camera.

    An override names its reason, a second person who authorises it, what is promised, by whom
    and until when.
    """

    event: ClassVar[str] = "cleared"
    override_reason: str | None = None
    authorised_by: str | None = None
    promise: str | None = None
    promise_by: str | None = None
    promise_until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearingWithdrawn(CardFact):
    """The clearing no longer holds."""

    event: ClassVar[str] = "clearing_withdrawn"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside(CardFact):
    """The card is held out of use."""

    event: ClassVar[str] = "set_aside"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedToService(CardFact):
    """A data manager puts a card that was set aside back to use."""

    event: ClassVar[str] = "returned_to_service"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageNoted(CardFact):
    """Damage: severity 1 cosmetic, 2 watch, 3 do not use, 4 dangerous (sharp, swollen, hot)."""

    event: ClassVar[str] = "damage_noted"
    part: BodyPart
    severity: int
    text: str
    photos: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageSettled(CardFact):
    """Damage was dealt with. damage: the id of the fact that noted it."""

    event: ClassVar[str] = "damage_settled"
    damage: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthRead(CardFact):
    """What a health tool says of the card; what it does not say is None, never 0."""

    event: ClassVar[str] = "health_read"
    tool: str
    verdict: Verdict
    host_bytes_written: int | None = None
    wear_percent: float | None = None
    power_on_hours: int | None = None
    temperature_c: float | None = None
    media_errors: int | None = None
    interface_errors: int | None = None
    reallocated: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedMeasured(CardFact):
    """A measured speed, in bytes per second, and how it was measured."""

    event: ClassVar[str] = "speed_measured"
    write_bytes_per_s: int | None = None
    read_bytes_per_s: int | None = None
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Retired(CardFact):
    """The card is out of the pool for good."""

    event: ClassVar[str] = "retired"
    reason: Literal["worn", "failed", "lost", "sold", "returned", "other"]
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedMissing(CardFact):
    """Nobody knows where the card is."""

    event: ClassVar[str] = "reported_missing"
    place: str | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Found(CardFact):
    """The card is back in sight."""

    event: ClassVar[str] = "found"
    place: str | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled(CardFact):
    """A person looked at a mishap and says why it no longer stands.

    target: the fact that made it. roll and drive narrow it; None means all of them.
    """

    event: ClassVar[str] = "settled"
    target: str
    mishap: str
    roll: str | None = None
    drive: str | None = None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted(CardFact):
    """A remark."""

    event: ClassVar[str] = "noted"
    text: str
    roll: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Voided(CardFact):
    """An earlier fact of this card was a mistake."""

    event: ClassVar[str] = "voided"
    target: str
    reason: str


# What happens to a drive


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveFact(Fact):
    """A fact about one drive, by its label."""

    drive: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveRegistered(DriveFact):
    """A drive takes copies. enclosure: partitions of one enclosure are one drive."""

    event: ClassVar[str] = "drive_registered"
    kind: DriveKind
    capacity_bytes: int
    place: DrivePlace
    maker_model: str | None = None
    serial: str | None = None
    enclosure: str | None = None
    purchase: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveMoved(DriveFact):
    """The drive is somewhere else, `in transit` until it arrived."""

    event: ClassVar[str] = "drive_moved"
    place: DrivePlace
    holder: str | None = None
    seal: str | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveEmptied(DriveFact):
    """Everything on the drive is gone."""

    event: ClassVar[str] = "drive_emptied"
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveFailed(DriveFact):
    """The drive does not work."""

    event: ClassVar[str] = "drive_failed"
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveLost(DriveFact):
    """Nobody knows where the drive is."""

    event: ClassVar[str] = "drive_lost"
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveFound(DriveFact):
    """A lost drive is back, with what is on it."""

    event: ClassVar[str] = "drive_found"
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveReturned(DriveFact):
    """The drive went back, and its copies with it."""

    event: ClassVar[str] = "drive_returned"
    text: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveVoided(DriveFact):
    """An earlier fact of this drive was a mistake. On the wire `voided`, with `drive`."""

    event: ClassVar[str] = "voided"
    target: str
    reason: str


# What happens to a unit, or to the production


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitFact(Fact):
    """A fact about one crew unit."""

    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Called(UnitFact):
    """The unit's shooting day began."""

    event: ClassVar[str] = "called"
    day_number: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrapped(UnitFact):
    """The unit's shooting day ended."""

    event: ClassVar[str] = "wrapped"
    day_number: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitVoided(UnitFact):
    """An earlier fact of this unit was a mistake. On the wire `voided`, with `unit`."""

    event: ClassVar[str] = "voided"
    target: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted(Fact):
    """Somebody counted cards. cards: the labels seen; not_found: those looked for in vain."""

    event: ClassVar[str] = "counted"
    unit: str | None = None
    place: str | None = None
    cards: tuple[str, ...]
    not_found: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofKept(Fact):
    """A manifest, listing or reading was kept here, by its SHA-256."""

    event: ClassVar[str] = "proof_kept"
    sha256: str
    kind: str
    bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCommitted(Fact):
    """Which card goes to which camera on a day. Each line has at least card and camera."""

    event: ClassVar[str] = "plan_committed"
    unit: str | None = None
    day: str
    lines: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraSet(Fact):
    """A camera, as it stands from now on. letters: its position (A, B, DR)."""

    event: ClassVar[str] = "camera_set"
    letters: str
    unit: str
    slots: int = 1
    takes: str | None = None
    needs_write_bytes_per_s: int | None = None
    formats_to: FileSystem | None = None
    recording: str | None = None
    kind: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet(Fact):
    """The backup rule from now on. kinds: how many kinds of drive; off_site: how many copies."""

    event: ClassVar[str] = "rule_set"
    copies: int
    level: Level
    kinds: int = 1
    off_site: int = 0
    receipt: bool = False
    hold_days: int = 0
    rolls: Literal["main", "proxy"] = "main"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductionVoided(Fact):
    """An earlier fact of the production was a mistake. On the wire `voided`, with no subject."""

    event: ClassVar[str] = "voided"
    target: str
    reason: str


AnyVoid = Voided | DriveVoided | UnitVoided | ProductionVoided

FACTS: tuple[type[Fact], ...] = tuple(
    kind
    for kind in list(globals().values())
    if isinstance(kind, type) and issubclass(kind, Fact) and kind.event
)
"""Every kind of fact there is."""

WIRE_NAMES = {"loaded_as": "as", "made_from": "from", "received_from": "from"}
"""Fields whose word on the wire Python keeps for itself."""
