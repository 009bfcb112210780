"""Photographs of damage: decoded, made small, and encoded anew, so that only the picture is kept.

Where it was taken, by whom and on what, is dropped with all else that a camera writes beside a
picture. What is kept goes by the SHA-256 of what is kept.
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Sequence
from datetime import datetime
from io import BytesIO
from typing import NamedTuple

from PIL import Image, ImageOps

from tracker.domain.facts import BodyPart
from tracker.services.acts import looking_first, obj, say
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import photos as kept
from tracker.wire.faults import BadInput, Fault, shown
from tracker.wire.rows import refuse

MOST = 4
MOST_BYTES = 12_000_000
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 1_600
QUALITY = 82

TAKEN = ("JPEG", "PNG", "WEBP")
"""Formats that are read wherever this runs; HEIC only where Pillow was taught to."""
_HEIC = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1")
_UNREADABLE = (
    OSError, SyntaxError, ValueError, EOFError, ArithmeticError, LookupError, TypeError,
    AttributeError, MemoryError, struct.error,
)  # fmt: skip
"""What decoders raise over a file that is broken."""


class Sent(NamedTuple):
    """A photograph as it came in. name: that of its file."""

    name: str
    content: bytes


def note_damage_with(
    service: Service,
    who: Who,
    card: str,
    part: BodyPart,
    severity: int,
    text: str,
    *,
    photos: Sequence[Sent] = (),
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Damage with its photographs, all or nothing. Errors: BadInput, which names each file."""
    pictures = {hashlib.sha256(one).hexdigest(): one for one in made_anew(photos)}
    said = obj(
        "damage_noted", card=card, part=part, severity=severity, text=text,
        photos=tuple(pictures) or None,
    )  # fmt: skip
    with looking_first(service) as conn:
        for sha256, content in pictures.items():
            kept.keep(conn, sha256, content, service.clock(), who.by)
        return say(service, conn, who, [said], at, tap)


def read_photo(service: Service, sha256: str) -> bytes | None:
    """A photograph, as JPEG; None if there is none by that name."""
    with service.store.reading() as conn:
        return kept.read(conn, sha256)


def made_anew(photos: Sequence[Sent]) -> list[bytes]:
    """Each photograph as a JPEG of ours. Errors: BadInput with every file at fault."""
    if len(photos) > MOST:
        raise BadInput([_fault(f"{len(photos)} photographs", f"at most {MOST}: leave some out")])
    faults: list[Fault] = []
    made = []
    for one in photos:
        try:
            made.append(_made_anew(one))
        except BadInput as error:
            faults += error.faults
    refuse(faults)
    return made


def _made_anew(photo: Sent) -> bytes:
    name = shown(photo.name)
    if len(photo.content) > MOST_BYTES:
        large = f"{name}, larger than {MOST_BYTES // 10**6} MB"
        raise BadInput([_fault(large, "a smaller file: take it again at a lower resolution")])
    try:
        with Image.open(BytesIO(photo.content), formats=_formats()) as image:
            if image.width * image.height <= MOST_PIXELS:
                return _encoded(image)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        pass
    except _UNREADABLE:
        raise BadInput([_unreadable(name, photo.content)]) from None
    large = f"{name}, of more than {MOST_PIXELS // 10**6} megapixels"
    raise BadInput([_fault(large, "a smaller picture: take it again at a lower resolution")])


def _encoded(image: Image.Image) -> bytes:
    # A JPEG is decoded at half or a quarter of its size, if that is still large enough.
    image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
    upright = ImageOps.exif_transpose(image)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    # On a sheet of its own, so that nothing that came beside the picture goes along.
    sheet = Image.new("RGB", upright.size, "white")
    see_through = upright.has_transparency_data
    sheet.paste(upright.convert("RGBA" if see_through else "RGB"), mask=_mask(upright))
    out = BytesIO()
    sheet.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def _mask(image: Image.Image) -> Image.Image | None:
    return image.convert("RGBA").getchannel("A") if image.has_transparency_data else None


def _formats() -> list[str]:
    Image.init()
    return [name for name in (*TAKEN, "HEIF") if name in Image.OPEN]


def _unreadable(name: str, content: bytes) -> Fault:
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC:
        wanted = "JPEG: choose “most compatible” in the camera settings, and take it again"
        return _fault(f"{name}, a HEIC photograph, which cannot be read here", wanted)
    if not content:
        return _fault(f"{name}, an empty file", "a photograph: choose it again")
    wanted = "a photograph as JPEG, PNG or WebP: take it again, or leave it out"
    return _fault(f"{name}, which cannot be read", wanted)


def _fault(found: str, expected: str) -> Fault:
    return Fault("", None, "photos", found, expected)
