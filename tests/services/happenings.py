"""Random happenings of a production as they are sent, each chosen with what was said so far.

A happening is a few small numbers; what they mean depends on what stands: a settlement picks a
mishap that was made, a void one of the last facts of a card, a copy a roll that was loaded. So
short lists of numbers tell stories in which much happens, and a shorter list tells a part of it.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

from hypothesis import strategies as st

BEGIN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
GB = 10**9
DRIVES = {"RAID": ("raid", "on set"), "SHUTTLE": ("ssd", "on set"), "VAULT": ("hdd", "off site")}
CARDS = ("S-014", "S-015", "S-016")
NAMES = ("A001", "A001", "A002", "B001")
PROOFS = ("5e" * 32, "a1" * 32)
Obj = dict[str, Any]


class Roll(NamedTuple):
    """What a load opened, perhaps: the card's own first label, the fact, the name."""

    card: str
    fact: str
    name: str | None


@dataclass
class Teller:
    """What was said so far, and how the next thing is said.

    labels: the label of each card now. about: what was said of each subject, as (event, id).
    made: gives the mishaps that stand, as (card, kind, fact).
    """

    made: Callable[[], Sequence[tuple[str, str, str]]]
    now: datetime = BEGIN
    labels: dict[str, str] = field(default_factory=dict)
    about: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    rolls: list[Roll] = field(default_factory=list)
    count: int = 0

    def tell(self, event: str, subject: str = "", late: int = 0, /, **fields: Any) -> Obj:
        self.count += 1
        self.now += timedelta(minutes=1)
        fact_id = str(uuid.UUID(int=self.count, version=4))
        self.about.setdefault(subject, []).append((event, fact_id))
        who = {"card": self.labels[subject]} if subject in self.labels else {}
        who = {"drive": subject} if subject in DRIVES else who
        at = self.now - timedelta(minutes=late)
        said = {word: value for word, value in fields.items() if value is not None}
        return {"id": fact_id, "event": event, **who, "occurred_at": at.isoformat(), **said}

    def inventory(self) -> list[Obj]:
        told = [
            self.tell("drive_registered", drive, kind=kind, place=place, capacity_bytes=10**13)
            for drive, (kind, place) in DRIVES.items()
        ]
        for card in CARDS:
            self.labels[card] = card
            size, visiting = 1000 * GB, card == CARDS[2] or None
            told.append(self.tell("registered", card, media="SSD", capacity_bytes=size,
                                  visiting=visiting))  # fmt: skip
        told += [self.tell("camera_set", letters=x, unit="main", slots=2) for x in "AB"]
        told.append(self.tell("proof_kept", sha256=PROOFS[0], kind="manifest", bytes=4096))
        return told


class Happening(NamedTuple):
    """what: which of the happenings; card and the rest: choices that it makes. late: minutes."""

    what: str
    card: int
    a: int
    b: int
    late: int


def pick(choices: Sequence[Any], number: int) -> Any:
    return choices[number % len(choices)]


def tell(teller: Teller, happening: Happening) -> list[Obj]:
    """The facts of a happening, in order; none where there is nothing that it could be about."""
    return TELLERS[happening.what](teller, pick(CARDS, happening.card), happening)


def _load(t: Teller, card: str, h: Happening) -> list[Obj]:
    roll = pick((*NAMES, None), h.a)
    kind = pick(("main", "main", "mirror", "main", "continues", "mirror", "proxy"), h.b)
    formatted = pick((True, None, None), h.a + h.b)
    camera = pick("AAB", h.b)
    said = t.tell("loaded", card, h.late, camera=camera, roll=roll, formatted=formatted,
                  **{"as": kind})  # fmt: skip
    t.rolls.append(Roll(card, said["id"], roll))
    return [said]


def _pull(t: Teller, card: str, h: Happening) -> list[Obj]:
    size, measured = pick((480 * GB, None, 0, 300 * GB), h.a), pick((None, True), h.b)
    return [t.tell("pulled", card, h.late, bytes=size, measured=measured)]


def _shoot(t: Teller, card: str, h: Happening) -> list[Obj]:
    return [*_load(t, card, h), *_pull(t, card, h._replace(a=0, b=h.a))]


def _mirror(t: Teller, card: str, h: Happening) -> list[Obj]:
    """The same pictures on two cards, of which one is in the same camera as a mirror."""
    name, other = pick(NAMES, h.a), pick(CARDS, CARDS.index(card) + 1)
    told = []
    for one, kind in ((card, None), (other, "mirror")):
        load = t.tell("loaded", one, h.late, camera="A", roll=name, formatted=True, **{"as": kind})
        t.rolls.append(Roll(one, load["id"], name))
        told += [load, *_pull(t, one, h._replace(a=0))]
    return told


def _cycle(t: Teller, card: str, h: Happening) -> list[Obj]:
    """The usual order, as far as it went: shot, backed up, cleared, wiped."""
    told = [*_shoot(t, card, h._replace(b=0)), *_back_up(t, card, h._replace(b=0))]
    if h.b % 3:
        told.append(t.tell("cleared", card, h.late))
    if h.b % 2:
        told.append(t.tell("formatted", card, h.late, where="camera"))
    return told


def _copy(t: Teller, card: str, h: Happening) -> list[Obj]:
    """One fact about a copy, of a roll that is named, or meant by its id, or not said."""
    drive = pick(tuple(DRIVES), h.a)
    event = pick(("copy_finished", "copy_checked", "copy_started", "copy_checked", "copy_failed",
                  "copy_finished", "copy_lost"), h.b)  # fmt: skip
    fields: Obj = {"drive": drive, **_roll(t, card, h.a + h.b)}
    if event in ("copy_finished", "copy_started"):
        fields["from"] = pick((None, None, None, "RAID", "SHUTTLE"), h.a * 3 + h.b)
    if event == "copy_finished":
        fields["bytes"] = pick((480 * GB, None, 300 * GB), h.a)
    if event == "copy_checked":
        fields |= _level(h)
    if event == "copy_failed":
        fields["reason"] = pick(("short", "differs", "unreadable", "other"), h.a)
    if event == "copy_lost":
        fields["reason"] = "deleted"
    return [t.tell(event, card, h.late, **fields)]


def _level(h: Happening) -> Obj:
    return {
        "level": pick(("checksummed", "checksummed", "listed", "reread"), h.a),
        "proof": pick((*PROOFS, None), h.b),
    }


def _roll(t: Teller, card: str, number: int) -> Obj:
    own = [roll for roll in t.rolls if roll.card == card]
    roll = own[-1 - (number // 3) % min(len(own), 4)] if own else None
    if roll is None or number % 3 == 0:
        return {}
    by_name = number % 3 == 1 and roll.name is not None
    return {"roll": roll.name} if by_name else {"roll_id": roll.fact}


def _back_up(t: Teller, card: str, h: Happening) -> list[Obj]:
    """Two copies, checked, of a roll or of all that is there."""
    which = _roll(t, card, h.b)
    proof = pick(PROOFS, h.a)
    return [
        t.tell("copy_checked", card, h.late, drive=drive, level="checksummed", proof=proof, **which)
        for drive in pick((("RAID", "SHUTTLE"), ("RAID", "VAULT")), h.a)
    ]


def _wipe(t: Teller, card: str, h: Happening) -> list[Obj]:
    where = pick(("camera", "camera", "computer", "return"), h.a)
    camera = pick((None, "A", "B"), h.b) if where == "camera" else None
    return [t.tell("formatted", card, h.late, where=where, camera=camera)]


def _clear(t: Teller, card: str, h: Happening) -> list[Obj]:
    if h.a % 4:
        return [t.tell("cleared", card, h.late)]
    until = (BEGIN + timedelta(days=1)).isoformat()
    return [
        t.tell("cleared", card, h.late, override_reason="no card", authorised_by="Noor",
               promise="a copy", promise_by="Kim", promise_until=until)
    ]  # fmt: skip


def _say(t: Teller, card: str, h: Happening) -> list[Obj]:
    """Something else about a card, or about a roll of it."""
    roll = pick(NAMES, h.b)
    says: tuple[tuple[str, Obj], ...] = (
        ("checked_in", {"found": pick(("footage", "empty"), h.b)}),
        ("handed_over", {"to": "Lee", "place": pick(("cart", "camera crew", "rental house"), h.b)}),
        ("roll_renamed", {"roll": roll, "new_name": pick(("A001", "A009", "A002"), h.b)}),
        ("declared_empty", {"roll": roll}),
        ("written_off", {"roll": roll, "authorised_by": "Noor", "reason": "a test"}),
        ("received", {"roll": roll, "from": "lab", "verdict": pick(("good", "bad"), h.b)}),
        ("set_aside", {"reason": "bent"}),
        ("returned_to_service", {"reason": "looked at"}),
        ("damage_noted", {"part": "casing", "severity": 1 + h.b % 4, "text": "dropped"}),
        ("health_read", {"tool": "reader", "verdict": pick(("good", "failing"), h.b)}),
        ("retired", {"reason": "worn"}),
        ("reported_missing", {}),
        ("found", {}),
        ("noted", {"text": "a remark"}),
        ("clearing_withdrawn", {"reason": "a doubt"}),
    )
    event, fields = pick(says, h.a)
    return [t.tell(event, card, h.late, **fields)]


def _settle(t: Teller, card: str, h: Happening) -> list[Obj]:
    own = [(kind, fact) for label, kind, fact in t.made() if label == t.labels[card]]
    if not own:
        return []
    kind, fact = pick(own, h.a)
    return [t.tell("settled", card, h.late, target=fact, mishap=kind, reason="seen to")]


def _void(t: Teller, card: str, h: Happening) -> list[Obj]:
    return _void_of(t, card, h)


def _void_of(t: Teller, subject: str, h: Happening) -> list[Obj]:
    said = t.about.get(subject, [])
    if h.b % 3:
        said = [(event, fact_id) for event, fact_id in said if event in WEIGHTY]
    if not said:
        return []
    _, target = said[-1 - h.a % min(len(said), 12)]
    return [t.tell("voided", subject, h.late, target=target, reason="a slip")]


def _drive(t: Teller, card: str, h: Happening) -> list[Obj]:
    drive = pick(tuple(DRIVES), h.a)
    event = pick(("drive_lost", "drive_found", "drive_emptied", "drive_moved", "drive_failed",
                  "voided", "drive_lost", "drive_found", "drive_returned"), h.b)  # fmt: skip
    if event == "voided":
        return _void_of(t, drive, h)
    place = pick(("off site", "on set", "in transit"), h.a) if event == "drive_moved" else None
    return [t.tell(event, drive, h.late, place=place)]


def _world(t: Teller, card: str, h: Happening) -> list[Obj]:
    """A rule, a proof, or a void of one."""
    if h.a % 5 == 0:
        return _void_of(t, "", h._replace(a=h.b))
    if h.a % 5 < 3:
        proof = pick(PROOFS, h.b)
        return [t.tell("proof_kept", "", h.late, sha256=proof, kind="manifest", bytes=4096)]
    return [
        t.tell(
            "rule_set",
            "",
            h.late,
            copies=1 + h.b % 3,
            level=pick(("checksummed", "listed"), h.a),
            off_site=pick((None, None, 1), h.b),
            receipt=pick((None, None, None, True), h.b),
            rolls=pick((None, None, "proxy"), h.a),
        )
    ]


def _relabel(t: Teller, card: str, h: Happening) -> list[Obj]:
    new = f"{card}-{len(t.about[card])}"
    said = t.tell("relabelled", card, 0, new_label=new)
    t.labels[card] = new
    return [said]


WEIGHTY = frozenset(
    {"loaded", "pulled", "copy_finished", "copy_checked", "cleared", "formatted", "drive_lost",
     "drive_found", "drive_emptied", "rule_set", "proof_kept", "roll_renamed", "voided"}
)  # fmt: skip
"""What other facts hang on: taken back more often than the rest."""

TELLERS: dict[str, Callable[[Teller, str, Happening], list[Obj]]] = {
    "shoot": _shoot,
    "mirror": _mirror,
    "cycle": _cycle,
    "load": _load,
    "pull": _pull,
    "copy": _copy,
    "back up": _back_up,
    "wipe": _wipe,
    "clear": _clear,
    "say": _say,
    "settle": _settle,
    "void": _void,
    "drive": _drive,
    "world": _world,
    "relabel": _relabel,
}
OFTEN = (
    *("shoot", "mirror", "mirror", "cycle", "cycle", "load", "pull", "copy", "copy", "copy"),
    *(
        "back up",
        "back up",
        "wipe",
        "clear",
        "say",
        "say",
        "settle",
        "settle",
        "void",
        "void",
        "drive",
        "drive",
    ),
    *("world", "world", "relabel"),
)
NUMBERS = st.integers(0, 59)

happenings = st.builds(
    Happening,
    what=st.sampled_from(OFTEN),
    card=st.sampled_from((0, 0, 1, 2)),
    a=NUMBERS,
    b=NUMBERS,
    late=st.sampled_from((0, 0, 0, 0, 0, 3, 8, 30, 90)),
)
