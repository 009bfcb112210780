"""Photographs of damage: only the picture is kept, and a file that is none is named."""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest
from PIL import Image, PngImagePlugin
from sqlalchemy import func, select

from tests.services.harbour import LEE, Harbour
from tracker.services import photos
from tracker.services.photos import MOST_BYTES, Sent, made_anew, note_damage_with, read_photo
from tracker.services.service import new_id
from tracker.store.kept_tables import Photo
from tracker.wire.faults import BadInput

ORIENTATION, GPS, MAKER, ARTIST = 0x0112, 0x8825, 0x010F, 0x013B
TURNED_RIGHT = 6
"""The camera was held upright: the picture is to be turned by 90 degrees, clockwise."""


def picture(width: int = 400, height: int = 300, mode: str = "RGB") -> Image.Image:
    """The left half is red, the right half blue."""
    made = Image.new(mode, (width, height), "blue")
    made.paste("red", (0, 0, width // 2, height))
    return made


def saved(image: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    out = BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def where_it_was_taken(orientation: int = 1) -> Image.Exif:
    """What a phone writes beside a picture: its place, its maker, whose it is."""
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[MAKER], exif[ARTIST] = "Invented Phones", "Robin Secret"
    exif[GPS] = {1: "N", 2: (60.0, 10.0, 15.5), 3: "E", 4: (24.0, 56.0, 15.1)}
    return exif


def opened(content: bytes) -> Image.Image:
    return Image.open(BytesIO(content), formats=["JPEG"])


def refused(*sent: Sent) -> str:
    """What is said of photographs that are not taken."""
    with pytest.raises(BadInput) as error:
        made_anew(sent)
    return str(error.value)


# What is kept


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_place_where_it_was_taken_is_not_kept(kind: str) -> None:
    sent = saved(picture(), kind, exif=where_it_was_taken())
    with Image.open(BytesIO(sent)) as before:
        assert before.getexif().get_ifd(GPS)
    (kept,) = made_anew([Sent("edge", sent)])
    with opened(kept) as after:
        assert dict(after.getexif()) == {}
        assert set(after.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for word in (b"Exif", b"GPS", b"Robin", b"Invented"):
        assert word not in kept


def test_remarks_profiles_and_texts_are_not_kept() -> None:
    texts = PngImagePlugin.PngInfo()
    texts.add_text("Comment", "Robin Secret")
    for sent in (
        saved(picture(), comment=b"Robin Secret", icc_profile=b"Robin Secret" * 20),
        saved(picture(), "PNG", pnginfo=texts),
    ):
        assert b"Robin" in sent
        (kept,) = made_anew([Sent("edge", sent)])
        assert b"Robin" not in kept


def test_what_follows_the_picture_in_its_file_is_not_kept() -> None:
    (kept,) = made_anew([Sent("edge.jpg", saved(picture()) + b"<script>Robin</script>" * 9)])
    assert b"script" not in kept


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_stands_upright(kind: str) -> None:
    sent = saved(picture(400, 300), kind, exif=where_it_was_taken(TURNED_RIGHT))
    with opened(made_anew([Sent("edge", sent)])[0]) as after:
        assert after.size == (300, 400)
        red, _, blue = after.getpixel((150, 20))
        assert red > 200
        assert blue < 60


@pytest.mark.parametrize(
    ("size", "kept"),
    [
        ((3200, 2400), (1600, 1200)),
        ((1000, 5000), (320, 1600)),
        ((1601, 20), (1600, 20)),
        ((1600, 1600), (1600, 1600)),
        ((1, 1), (1, 1)),
        ((9000, 1), (1600, 1)),
    ],
)
def test_the_longest_side_is_1600_pixels_and_nothing_is_made_larger(
    size: tuple[int, int], kept: tuple[int, int]
) -> None:
    with opened(made_anew([Sent("edge.png", saved(picture(*size), "PNG"))])[0]) as after:
        assert after.size == kept


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "1", "CMYK", "I;16"])
def test_every_kind_of_picture_is_kept_as_a_coloured_jpeg(mode: str) -> None:
    kind = "JPEG" if mode == "CMYK" else "PNG"
    made = Image.new("I;16", (40, 30)) if mode == "I;16" else picture(40, 30).convert(mode)
    with opened(made_anew([Sent("edge", saved(made, kind))])[0]) as after:
        after.load()
        assert after.mode == "RGB"


def test_what_is_see_through_is_white() -> None:
    clear = Image.new("RGBA", (40, 30), (0, 0, 0, 0))
    with opened(made_anew([Sent("edge.png", saved(clear, "PNG"))])[0]) as after:
        assert min(after.getpixel((20, 15))) > 250


def test_of_a_picture_that_moves_the_first_is_kept() -> None:
    moving = saved(picture(), "WEBP", save_all=True, append_images=[Image.new("RGB", (400, 300))])
    with opened(made_anew([Sent("edge.webp", moving)])[0]) as after:
        assert after.getpixel((20, 20))[0] > 200


# What is not taken


def test_every_file_at_fault_is_named_with_what_to_do() -> None:
    says = refused(
        Sent("a.jpg", saved(picture())),
        Sent("b.txt", b"no picture at all"),
        Sent("c.gif", saved(picture().convert("P"), "GIF")),
        Sent("d.jpg", b""),
    )
    assert "a.jpg" not in says
    for name in ("b.txt", "c.gif", "d.jpg"):
        assert f"found '{name}', " in says
    assert "expected a photograph as JPEG, PNG or WebP: take it again, or leave it out" in says


def test_a_phone_that_sends_heic_is_told_how_to_send_jpeg(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Where Pillow reads it, as where it does not.
    monkeypatch.delitem(Image.OPEN, "HEIF", raising=False)
    says = refused(Sent("IMG_1.HEIC", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 400))
    assert "found 'IMG_1.HEIC', a HEIC photograph, which cannot be read here" in says
    assert "most compatible" in says


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_file_that_is_cut_off_or_garbled_is_named(kind: str) -> None:
    whole = saved(picture(), kind)
    for broken in (whole[:30], whole[: len(whole) // 2]):
        assert "found 'x', which cannot be read" in refused(Sent("x", broken))
    for place in range(12, len(whole), max(1, len(whole) // 60)):
        garbled = bytearray(whole)
        garbled[place] ^= 0xFF
        # Some of these are still a picture. None of them is anything but a picture or a fault.
        try:
            made_anew([Sent("x", bytes(garbled))])
        except BadInput as error:
            assert "found 'x'" in str(error)


def said_to_be(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it is very large."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        summed = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + summed

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 4096)
    start = b"\x89PNG\r\n\x1a\n"
    return start + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(8000, 5001), (12_000, 10_000), (60_000, 60_000)])
def test_a_small_file_that_unfolds_into_a_huge_picture_is_not_unfolded(
    size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(_image: Image.Image) -> bytes:
        raise AssertionError("it was unfolded")

    monkeypatch.setattr(photos, "_encoded", never)
    says = refused(Sent("big.png", said_to_be(*size)))
    assert "found 'big.png', of more than 40 megapixels" in says


def test_forty_megapixels_are_still_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "_encoded", lambda _image: b"taken")
    assert made_anew([Sent("large.png", said_to_be(8000, 5000))]) == [b"taken"]


def test_a_file_of_more_than_12_megabytes_is_not_taken() -> None:
    sent = saved(picture())
    assert made_anew([Sent("a.jpg", sent + b"\0" * (MOST_BYTES - len(sent)))])
    says = refused(Sent("a.jpg", sent + b"\0" * (MOST_BYTES - len(sent) + 1)))
    assert "found 'a.jpg', larger than 12 MB" in says


def test_more_than_four_are_not_taken() -> None:
    assert len(made_anew([Sent("a.jpg", saved(picture()))] * 4)) == 4
    assert "found 5 photographs, expected at most 4" in refused(
        *[Sent("a.jpg", saved(picture()))] * 5
    )


# With the fact that they are of


def kept_photos(harbour: Harbour) -> int:
    with harbour.service.store.reading() as conn:
        return conn.scalar(select(func.count()).select_from(Photo)) or 0


@pytest.fixture
def damage(harbour: Harbour) -> Callable[..., Any]:
    def noted(*sent: Sent, card: str = "S-014", tap: str | None = None) -> Any:
        return note_damage_with(
            harbour.service, LEE, card, "edge", 3, "sharp", photos=sent, tap=tap
        )

    return noted


def test_a_photograph_goes_by_the_digest_of_what_is_kept(
    harbour: Harbour, damage: Callable[..., Any]
) -> None:
    (fact,) = damage(Sent("edge.jpg", saved(picture(), exif=where_it_was_taken()))).new
    (name,) = fact.photos
    content = read_photo(harbour.service, name)
    assert content is not None
    assert hashlib.sha256(content).hexdigest() == name
    assert read_photo(harbour.service, "0" * 64) is None
    assert harbour.agrees()


def test_the_same_photograph_is_kept_once(harbour: Harbour, damage: Callable[..., Any]) -> None:
    one = Sent("edge.jpg", saved(picture()))
    (first,) = damage(one, one).new
    (second,) = damage(one, card="S-015").new
    assert first.photos == second.photos
    assert len(first.photos) == kept_photos(harbour) == 1


def test_a_tap_that_is_said_again_logs_nothing_new(
    harbour: Harbour, damage: Callable[..., Any]
) -> None:
    tap, one = new_id(), Sent("edge.jpg", saved(picture()))
    assert len(damage(one, tap=tap).new) == 1
    harbour.clock.wait()
    again = damage(one, tap=tap)
    assert (again.new, again.again) == ([], [tap])


def test_a_fact_that_is_not_taken_leaves_no_photograph(
    harbour: Harbour, damage: Callable[..., Any]
) -> None:
    one = Sent("edge.jpg", saved(picture()))
    before = harbour.count()
    with pytest.raises(BadInput):
        damage(one, Sent("b.txt", b"no picture"))
    with pytest.raises(Exception, match="S-999"):
        damage(one, card="S-999")
    assert (harbour.count(), kept_photos(harbour)) == (before, 0)
