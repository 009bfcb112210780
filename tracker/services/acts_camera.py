"""What the camera crew does: a card goes into a camera, is formatted there, and comes out."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, select

from tracker.domain.facts import FileSystem, LoadedAs
from tracker.domain.rolls import Roll
from tracker.services.acts import act, kept_fact, looking_first, obj, say
from tracker.services.as_drawn import AskAgain, Check, Drawn
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import tables as t
from tracker.store.projection import read_state


def load(
    service: Service,
    who: Who,
    card: str,
    camera: str,
    *,
    slot: int | None = None,
    roll: str | None = None,
    loaded_as: LoadedAs = "main",
    formatted: bool = False,
    file_system: FileSystem | None = None,
    body: str | None = None,
    recording: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
    check: Check | None = None,
) -> Logged:
    """The card went into a camera. A roll without a name is called by the one that comes next.

    formatted: at once, in that camera.
    """
    return act(
        service, who, "loaded", at, tap, check, card=card, camera=camera, slot=slot, roll=roll,
        loaded_as=loaded_as, formatted=formatted, file_system=file_system, body=body,
        recording=recording,
    )  # fmt: skip


def swap(
    service: Service,
    who: Who,
    card: str,
    camera: str,
    *,
    slot: int | None = None,
    roll: str | None = None,
    loaded_as: LoadedAs = "main",
    formatted: bool = True,
    file_system: FileSystem | None = None,
    body: str | None = None,
    recording: str | None = None,
    unmounted: bool | None = None,
    at: datetime | None = None,
    tap: str | None = None,
    out: str | None = None,
    drawn: Drawn | None = None,
    out_said: str | None = None,
) -> Logged:
    """The card went into a camera, formatted there, and the one that was in it came out.

    unmounted: whether what came out was, in the camera, before it was pulled. out: the label of
    the card that came out; without, the one that the slot says, or that went in first.
    drawn: the page on which somebody tapped. out_said: what its button said that comes out: a
    label, "" for none, None where it said nothing. Errors: AskAgain, TooEarly.
    """
    into = obj(
        "loaded", card=card, camera=camera, slot=slot, roll=roll, loaded_as=loaded_as,
        formatted=formatted, file_system=file_system, body=body, recording=recording,
    )  # fmt: skip
    with looking_first(service) as conn:
        said_before = tap is not None and kept_fact(conn, tap) is not None
        if said_before:
            out = None
        elif out is None:
            out = _comes_out(service, conn, card, camera, slot)
        elif out not in {label for label, _ in _inside(conn, camera)}:
            raise AskAgain(_another(camera, None, out))
        if not said_before:
            if out_said is not None and out_said != (out or ""):
                raise AskAgain(_another(camera, out, out_said))
            if drawn is not None:
                drawn.check(conn, [card] if out is None else [card, out])
        both = [into] if out is None else [obj("pulled", card=out, unmounted=unmounted), into]
        return say(service, conn, who, both, at, tap, own=len(both) - 1)


def _another(camera: str, out: str | None, said: str) -> str:
    """Why a button that said what comes out of a camera is asked again."""
    if out is None:
        return f"Camera {camera} does not hold {said} any more, as was said since."
    return f"Camera {camera} holds {out} now, {f'not {said}' if said else 'and was empty before'}."


def comes_out(service: Service, card: str, camera: str, *, slot: int | None = None) -> str | None:
    """The label of the card that comes out if this one is swapped in; None if none does."""
    with service.store.reading() as conn:
        return _comes_out(service, conn, card, camera, slot)


def _comes_out(
    service: Service, conn: Connection, card: str, camera: str, slot: int | None
) -> str | None:
    """As the rows have it. Without a slot, of several cards the one that went in first.

    More cards than slots: those that were said to be in before the others are out already, and
    stay in doubt until somebody says so.
    """
    described = service.around(conn).cameras.get(camera)
    slots = described.slots if described else 1
    inside = _inside(conn, camera)[-slots:]
    if not inside or any(label == card for label, _ in inside):
        return None
    if slot is None or slots == 1:
        return inside[0][0]
    there = [label for label, roll in inside if roll.slot == slot]
    if there:
        return there[-1]
    unsaid = [label for label, roll in inside if roll.slot is None]
    return unsaid[0] if unsaid and len(inside) == slots else None


def _inside(conn: Connection, camera: str) -> list[tuple[str, Roll]]:
    """The cards in a camera with their open rolls, the one said last to be in at the end."""
    asked = select(t.Card.id, t.Card.label).where(t.Card.camera == camera)
    found = []
    for card_id, label in conn.execute(asked).all():
        state = read_state(conn, card_id)
        roll = None if state is None else state.open_roll()
        if roll is not None:
            found.append((label, roll))
    return sorted(found, key=lambda entry: entry[1].said_in)


def format_in_camera(
    service: Service,
    who: Who,
    card: str,
    *,
    camera: str | None = None,
    file_system: FileSystem | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The card was formatted in a camera; without its letters, in the one that it is in."""
    return act(
        service, who, "formatted", at, tap, card=card, where="camera", camera=camera,
        file_system=file_system,
    )  # fmt: skip


def pull(
    service: Service,
    who: Who,
    card: str,
    *,
    bytes_: int | None = None,
    clips: int | None = None,
    seconds: float | None = None,
    measured: bool = False,
    unmounted: bool | None = None,
    scenes: tuple[str, ...] | None = None,
    at: datetime | None = None,
    tap: str | None = None,
    check: Check | None = None,
) -> Logged:
    """The card came out of its camera. bytes_, clips, seconds of footage: as the camera shows.

    measured: counted by a reader, which only a cart computer may say.
    """
    return act(
        service, who, "pulled", at, tap, check, card=card, bytes=bytes_, clips=clips,
        seconds=seconds, measured=measured, unmounted=unmounted, scenes=scenes,
    )  # fmt: skip


def rename_roll(
    service: Service,
    who: Who,
    card: str,
    roll: str,
    new_name: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The camera's own reel name rules."""
    return act(service, who, "roll_renamed", at, tap, card=card, roll=roll, new_name=new_name)


def confirm_name(
    service: Service,
    who: Who,
    card: str,
    roll: str,
    *,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A name that was guessed is right."""
    return rename_roll(service, who, card, roll, roll, at=at, tap=tap)
