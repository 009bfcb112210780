"""What a loader beside a camera sees: what is in it, what may go in, and what comes out then."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from tracker.domain.codes import BadCode
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import CameraSet, Moment
from tracker.domain.permissions import Reason
from tracker.services.acts_camera import comes_out
from tracker.services.as_drawn import marks_within
from tracker.services.card_page import CardPage
from tracker.services.codes import NobodysCode, typed_or_scanned
from tracker.services.looking import doubts
from tracker.services.reels import expected
from tracker.services.service import Service
from tracker.store import codes
from tracker.store.cameras import inside as inside_cameras
from tracker.store.card_page import inside_cameras as inside_by_letters


@dataclass(frozen=True, slots=True)
class Into:
    """A camera that a card may go into. roll: as it will most likely be called. out: a label.

    slot: None in a camera that has one. reasons: why it should not go there. wants_format: why it
    has to be formatted there first.
    """

    camera: str
    slot: int | None
    roll: str
    out: str | None
    reasons: tuple[Reason, ...]
    wants_format: tuple[Reason, ...]

    @property
    def says(self) -> str:
        """What a button says that does it."""
        swapped = "" if self.out is None else f", {self.out} comes out"
        slot = "" if self.slot is None else f" slot {self.slot}"
        return f"Into {self.camera}{slot} as {self.roll}?{swapped}"


@dataclass(frozen=True, slots=True)
class InCamera:
    """A card in a camera. code: None if it has none. doubted: it is probably out."""

    label: str
    code: str | None
    slot: int | None
    roll: str
    guessed: bool
    since: Moment
    doubted: bool


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera and what is in it. expected: how its next roll will most likely be called.

    marks: of the cards in it, as of `marks_of`.
    """

    described: CameraSet
    inside: tuple[InCamera, ...]
    expected: str
    marks: Mapping[str, str]

    @property
    def free(self) -> int:
        """Slots with nothing in them, as far as was said."""
        return max(0, self.described.slots - sum(not one.doubted for one in self.inside))


def into(service: Service, card: CardPage) -> list[Into]:
    """The cameras that a card may go into, those without a reason against it first."""
    letters = [line.camera.letters for line in card.cameras]
    with service.store.reading() as conn:
        names = {one: expected(conn, one) for one in letters}
    found = [
        Into(
            line.camera.letters,
            slot,
            names[line.camera.letters],
            comes_out(service, card.label, line.camera.letters, slot=slot),
            line.reasons,
            line.wants_format,
        )
        for line in card.cameras
        for slot in _slots(line.camera)
    ]
    return sorted(found, key=lambda one: (bool(one.reasons), one.camera, one.slot or 0))


def _slots(camera: CameraSet) -> list[int | None]:
    return [None] if camera.slots == 1 else [*range(1, camera.slots + 1)]


def copies_asked(service: Service) -> dict[str, int]:
    """How many copies the backup rule asks for: of a roll, and of a proxy."""
    with service.store.reading() as conn:
        rules = service.around(conn).context.rules
    return {"main": rules.main.copies, "proxy": rules.proxy.copies}


def cameras(service: Service) -> list[CameraSet]:
    """Every camera, by its letters."""
    with service.store.reading() as conn:
        return [one for _, one in sorted(service.around(conn).cameras.items())]


def camera(service: Service, letters: str) -> Camera | None:
    """A camera, in any case of its letters; None if there is none."""
    with service.store.reading() as conn:
        around = service.around(conn)
        known = {name.casefold(): one for name, one in around.cameras.items()}
        described = around.cameras.get(letters) or known.get(letters.casefold())
        if described is None:
            return None
        marks = marks_within(conn, inside_by_letters(conn).get(described.letters, ()))
        out = {label for one in doubts(conn, around) for label in one.cards
               if one.kind == "probably out"}  # fmt: skip
        rows = inside_cameras(conn, described.letters)
        numbers = codes.numbers_for(conn, [card_id for card_id, _, _ in rows])
        found = [
            InCamera(
                label, codes.spelled(numbers.get(card_id)), roll.slot, roll.name, roll.guessed,
                roll.loaded, label in out,
            )
            for card_id, label, roll in rows
        ]  # fmt: skip
        return Camera(described, tuple(found), expected(conn, described.letters), marks)


def several(service: Service, said: Iterable[str]) -> tuple[list[str], list[str]]:
    """The labels of the cards that were scanned one after the other, each once; and what is wrong.

    What is wrong with one keeps none of the others away.
    """
    found: dict[str, None] = {}
    wrong = []
    for one in said:
        try:
            coded = typed_or_scanned(service, one)
        except BadCode as error:
            wrong.append(f"{one}: {error}")
            continue
        except (NobodysCode, UnknownLabel) as error:
            wrong.append(f"{str(error)[:1].upper()}{str(error)[1:]}")
            continue
        if coded.kind == "card":
            found.setdefault(coded.label)
        else:
            wrong.append(f"{coded.label} is a drive: only cards go into this list.")
    return list(found), wrong
