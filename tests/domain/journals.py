"""Random journals: one to three cards, their drives and rules, late facts, and voids.

Every fact is of a kind and with fields that may be logged, in an order that no crew would keep.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import product
from typing import Any

from hypothesis import strategies as st

from tests.stories import GB, NOOR, PROOF
from tracker.domain import facts as f

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
CARDS = ("S-014", "S-015", "S-016")
ROLLS = (None, "A001", None, "A002")
DRIVES = ("RAID", "SHUTTLE", "VAULT", "RAID-2")
FROM = (None, None, "RAID", None, "SHUTTLE")
SIZES = (480 * GB, None, 0, 300 * GB)
CLOCK = {"promise": "a copy", "promise_by": NOOR, "promise_until": START + timedelta(days=1)}
EARLIER = "one of the facts logged before, of the same subject"

Said = tuple[type[f.Fact], dict[str, Any]]
Template = tuple[Said, ...]


def said(event: type[f.Fact], weight: int = 1, /, **choices: tuple[Any, ...]) -> list[Template]:
    """A kind of fact with choices for its fields; weight: how often it is drawn."""
    ways = [dict(zip(choices, chosen, strict=True)) for chosen in product(*choices.values())]
    # A stride that is prime to the number of ways, so that a part of them has something of all.
    return [((event, ways[number * 31 % len(ways)]),) for number in range(weight * 48)]


def usual(roll: str, camera: str, *, upto: int) -> Template:
    """The usual order on set, as far as it went: shot, copied twice, cleared, wiped."""
    copied = {"roll": roll, "level": "checksummed", "proof": PROOF}
    whole: Template = (
        (f.Loaded, {"camera": camera, "roll": roll, "formatted": True}),
        (f.Pulled, {"bytes": 480 * GB}),
        (f.CopyFinished, {"drive": "SHUTTLE", "roll": roll, "bytes": 480 * GB}),
        (f.CopyChecked, {"drive": "SHUTTLE", **copied}),
        (f.CopyChecked, {"drive": "RAID", **copied}),
        (f.Cleared, {}),
        (f.Formatted, {"where": "camera"}),
    )
    return whole[:upto]


TEMPLATES: tuple[Template, ...] = (
    *said(f.Noted, text=("a remark",)),
    *(
        usual(roll, camera, upto=upto)
        for roll, camera, upto in product(("A001", "A002", "B003"), ("A", "B"), (2, 4, 5, 6, 6, 7))
        for _ in range(10)
    ),
    *said(
        f.Loaded,
        6,
        camera=("A", "B"),
        roll=ROLLS,
        formatted=(True, False, False),
        loaded_as=("main", "main", "continues", "mirror", "proxy", "main"),
        guessed_roll=(None, "A007"),
    ),
    *said(f.Pulled, 6, bytes=SIZES, clips=(None, 18), measured=(False, True)),
    *said(
        f.CopyStarted, 3, drive=DRIVES, roll=ROLLS, made_from=FROM, roll_id=(None, None, EARLIER)
    ),
    *said(
        f.CopyFinished,
        5,
        drive=DRIVES,
        roll=ROLLS,
        made_from=FROM,
        bytes=SIZES,
        measured=(True, False),
    ),
    *said(
        f.CopyChecked,
        6,
        drive=DRIVES,
        roll=ROLLS,
        level=("checksummed", "reread", "listed"),
        proof=(PROOF, PROOF, None),
    ),
    *said(f.CopyFailed, 2, drive=DRIVES, roll=ROLLS, reason=("short", "differs", "other")),
    *said(f.CopyFailed, drive=DRIVES, reason=("unreadable",)),
    *said(f.CopyLost, drive=DRIVES, roll=ROLLS, reason=("deleted",)),
    *said(f.Cleared, 4),
    *said(
        f.Cleared,
        override_reason=("no other card",),
        authorised_by=(NOOR,),
        **{name: (value,) for name, value in CLOCK.items()},
    ),
    *said(f.ClearingWithdrawn, reason=("a doubt",)),
    *said(
        f.Formatted, 4, where=("camera", "camera", "computer", "return"), camera=(None, "A", "B")
    ),
    *said(f.CheckedIn, 2, found=("footage", "empty")),
    *said(f.HandedOver, 2, to=("Lee",), place=("cart", "camera crew", "rental house")),
    *said(f.RollRenamed, roll=("A001", "A002"), new_name=("A009", "A001")),
    *said(f.DeclaredEmpty, roll=("A001", "A002")),
    *said(f.WrittenOff, roll=("A001", "A002"), authorised_by=(NOOR,), reason=("test",)),
    *said(f.Received, roll=("A001", "A002"), received_from=("lab",), verdict=("good", "bad")),
    *said(f.SetAside, reason=("bent pins",)),
    *said(f.ReturnedToService, reason=("looked at",)),
    *said(f.DamageNoted, part=("connector",), severity=(1, 2, 3, 4), text=("dropped",)),
    *said(f.DamageSettled, damage=(EARLIER,), text=("cleaned",)),
    *said(f.HealthRead, tool=("reader",), verdict=("good", "watch", "failing", "unreadable")),
    *said(f.SpeedMeasured, method=("full write",), write_bytes_per_s=(450_000_000,)),
    *said(f.Retired, reason=("worn",)),
    *said(f.ReportedMissing),
    *said(f.Found),
    *said(f.Registered, media=("2.5in SSD",), capacity_bytes=(GB,)),
    *said(f.Relabelled, new_label=("",)),
    *said(
        f.Settled,
        2,
        target=(EARLIER,),
        mishap=("copy_short", "loaded_uncovered", "covered_no_more", "formatted_uncovered"),
        reason=("seen to",),
    ),
    *said(f.Voided, 4, target=(EARLIER,), reason=("slip",)),
    *said(f.DriveEmptied, drive=DRIVES),
    *said(f.DriveFailed, drive=DRIVES),
    *said(f.DriveLost, drive=DRIVES),
    *said(f.DriveFound, drive=DRIVES),
    *said(f.DriveReturned, drive=DRIVES),
    *said(f.DriveMoved, drive=DRIVES, place=("in transit", "off site", "on set")),
    *said(f.DriveVoided, drive=DRIVES, target=(EARLIER,), reason=("slip",)),
    *said(
        f.RuleSet,
        copies=(1, 2, 3),
        level=("checksummed", "listed"),
        off_site=(0, 1),
        receipt=(False, False, True),
        rolls=("main", "main", "proxy"),
    ),
    *said(f.ProofKept, sha256=(PROOF,), kind=("manifest",), bytes=(4_096,)),
    *said(f.ProductionVoided, target=(EARLIER,), reason=("slip",)),
)


@dataclass(frozen=True)
class Line:
    """What is drawn at once: facts of one card, and when they happened and were logged."""

    template: Template
    card: int
    minutes: int
    late: int
    nth: int
    live: bool
    clamped: bool


LINES = st.builds(
    Line,
    template=st.sampled_from(TEMPLATES),
    card=st.integers(0, 2),
    minutes=st.sampled_from((1, 0, 7, 20)),
    late=st.sampled_from((0, 0, 0, 0, 0, 5, 90)),
    nth=st.integers(0, 6),
    live=st.booleans(),
    clamped=st.sampled_from((False,) * 9 + (True,)),
)


@st.composite
def journals(draw: st.DrawFn, most: int = 20) -> list[f.Fact]:
    """The facts of one production in the order of logging, its drives and cards registered.

    most: of what is drawn at once, a fact or some of the usual order.
    """
    cards = CARDS[: draw(st.integers(1, 3))]
    fewest = draw(st.sampled_from((1, most // 2)))
    lines = draw(st.lists(LINES, min_size=fewest, max_size=most))
    inventory_last = draw(st.booleans())
    told = [*_drives(), *([] if inventory_last else _inventory(cards))]
    told += _facts(lines, cards)
    return told + (_inventory(cards) if inventory_last else [])


def _drives() -> list[f.Fact]:
    kinds: dict[str, tuple[f.DriveKind, f.DrivePlace, str | None]] = {
        "RAID": ("raid", "on set", "RAID"),
        "RAID-2": ("raid", "on set", "RAID"),
        "SHUTTLE": ("ssd", "on set", None),
        "VAULT": ("hdd", "off site", None),
    }
    return [
        f.DriveRegistered(
            id=f"drive {label}",
            occurred_at=START,
            logged_at=START - timedelta(days=1, microseconds=number),
            origin="here",
            drive=label,
            kind=kind,
            place=place,
            enclosure=enclosure,
            capacity_bytes=20_000 * GB,
        )
        for number, (label, (kind, place, enclosure)) in enumerate(kinds.items())
    ]


def _inventory(cards: tuple[str, ...]) -> list[f.Fact]:
    """The third card is somebody else's, that only passes through."""
    return [
        f.Registered(
            id=f"card {label}",
            occurred_at=START + timedelta(days=2),
            logged_at=START - timedelta(hours=1, microseconds=number),
            origin="here",
            card=label,
            media="2.5in SSD",
            capacity_bytes=1_000 * GB,
            visiting=label == CARDS[2],
        )
        for number, label in enumerate(cards)
    ]


def _facts(lines: list[Line], cards: tuple[str, ...]) -> list[f.Fact]:
    """In the order of logging. A card gets a new label once at most."""
    told = [
        (line, cards[line.card % len(cards)], *said) for line in lines for said in line.template
    ]
    clock, happened = START, []
    for line, *_ in told:
        clock += timedelta(minutes=line.minutes)
        happened.append((clock, clock - timedelta(minutes=line.late)))
    relabelled: dict[str, int] = {}
    for number, (_, card, kind, _) in enumerate(told):
        if kind is f.Relabelled:
            relabelled.setdefault(card, number)
    facts: list[f.Fact] = []
    for number, (line, card, drawn, given) in enumerate(told):
        logged, occurred = happened[number]
        first = relabelled.get(card)
        again = drawn is f.Relabelled and first != number
        kind = f.Noted if again else drawn
        fields = {"text": "the label is worn"} if again else dict(given)
        if issubclass(kind, f.CardFact):
            renamed = first is not None and occurred >= happened[first][1]
            keeps = kind is f.Relabelled or kind is f.Registered or not renamed
            fields["card"] = card if keeps else f"{card} new"
        if kind is f.Relabelled:
            fields["new_label"] = f"{card} new"
        _point_back(fields, kind, facts, line.nth)
        facts.append(
            kind(
                id=f"{number} {kind.event}",
                occurred_at=occurred,
                logged_at=logged + timedelta(microseconds=number),
                origin="here" if line.nth else "there",
                source="live" if line.live else "history",
                clamped=line.clamped,
                **fields,
            )
        )
    return facts


def _point_back(fields: dict[str, Any], kind: type[f.Fact], facts: list[f.Fact], nth: int) -> None:
    """Let a fact name an earlier one of its subject: a load, where it names a roll."""
    for name, value in fields.items():
        if value is EARLIER:
            earlier = [fact.id for fact in facts if _same_subject(fact, kind, fields)]
            if name == "roll_id":
                earlier = [i for i in earlier if i.endswith("loaded")]
            nothing = None if name == "roll_id" else "never logged"
            fields[name] = earlier[-1 - nth % len(earlier)] if earlier else nothing


def _same_subject(fact: f.Fact, kind: type[f.Fact], fields: dict[str, Any]) -> bool:
    """Whether both are of one card, one drive or the production; registrations are left alone."""
    if isinstance(fact, f.Registered | f.Relabelled | f.DriveRegistered):
        return False
    if issubclass(kind, f.CardFact):
        return isinstance(fact, f.CardFact) and fact.card[:5] == fields["card"][:5]
    if issubclass(kind, f.DriveFact):
        return isinstance(fact, f.DriveFact) and fact.drive == fields["drive"]
    return not isinstance(fact, f.CardFact | f.DriveFact)
