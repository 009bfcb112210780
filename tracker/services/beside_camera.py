"""What a loader beside a camera sees: what is in it, what may go in, and what comes out then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tracker.domain.facts import CameraSet, Moment
from tracker.domain.permissions import Reason
from tracker.services.acts_camera import comes_out
from tracker.services.card_page import CardPage
from tracker.services.codes import Coded, typed_or_scanned
from tracker.services.looking import doubts
from tracker.services.reels import expected
from tracker.services.service import Service
from tracker.store import codes
from tracker.store.cameras import inside as inside_cameras


@dataclass(frozen=True, slots=True)
class Into:
    """A camera that a card may go into. roll: as it will most likely be called. out: a label.

    reasons: why it should not go there.
    """

    camera: str
    roll: str
    out: str | None
    reasons: tuple[Reason, ...]

    @property
    def says(self) -> str:
        """What a button says that does it."""
        swapped = "" if self.out is None else f", {self.out} comes out"
        return f"Into {self.camera} as {self.roll}?{swapped}"


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
    """A camera and what is in it."""

    described: CameraSet
    inside: tuple[InCamera, ...]
    expected: str


def into(service: Service, card: CardPage) -> list[Into]:
    """The cameras that a card may go into, those without a reason against it first."""
    letters = [line.camera.letters for line in card.cameras]
    with service.store.reading() as conn:
        names = {one: expected(conn, one) for one in letters}
    found = [
        Into(
            line.camera.letters,
            names[line.camera.letters],
            comes_out(service, card.label, line.camera.letters),
            line.reasons,
        )
        for line in card.cameras
    ]
    return sorted(found, key=lambda one: (bool(one.reasons), one.camera))


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
        return Camera(described, tuple(found), expected(conn, described.letters))


def several(service: Service, said: Iterable[str]) -> list[Coded]:
    """The cards that were scanned one after the other, each once. Errors: as `typed_or_scanned`."""
    found: dict[str, Coded] = {}
    for one in said:
        coded = typed_or_scanned(service, one.rpartition("/c/")[2])
        if coded.kind == "card":
            found.setdefault(coded.label, coded)
    return list(found.values())
