"""Photographs of damage: made small, without where they were taken, and for the crew only."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from tests.web.visitor import Crew, Page, Reading
from tracker.domain.facts import DamageNoted
from tracker.services import photos

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F


def picture(kind: str = "JPEG", size: tuple[int, int] = (400, 200), **more: Any) -> bytes:
    """A photograph as a phone writes it: red on its left, with the place where it was taken."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[MAKER] = "Invented Phones"
    exif[ORIENTATION] = more.pop("turned", 1)
    exif.get_ifd(GPS).update({1: "N", 2: (60.0, 10.0, 12.0), 3: "E", 4: (24.0, 56.0, 1.0)})
    out = BytesIO()
    image.save(out, kind, exif=exif, **more)
    return out.getvalue()


def noted(crew: Crew, *files: tuple[bytes, str]) -> Page:
    said = {"part": "edge", "severity": "2", "text": "a dent"}
    return sent(crew, "damage", "Log the damage", said, *files)


def sent(
    crew: Crew, word: str, button: str, said: dict[str, str], *files: tuple[bytes, str]
) -> Page:
    """A form with files, as one piece: what the test client keeps in a file it leaves open."""
    fields = crew.lee.get(f"/cards/S-014?act={word}").form(button).fields
    photos = [FileStorage(BytesIO(content), name, "photos") for content, name in files]
    boundary, body = encode_multipart({**fields, **said, "photos": photos})
    answer = crew.lee.client.post(
        f"/cards/S-014/{word}",
        data=body,
        content_type=f"multipart/form-data; boundary={boundary}",
        follow_redirects=True,
    )
    read = Reading()
    read.feed(answer.text)
    return Page(answer, read)


def kept(crew: Crew) -> list[str]:
    fact = crew.harbour.facts("S-014")[-1]
    return list((fact.photos or ()) if isinstance(fact, DamageNoted) else ())


def seen(crew: Crew, sha256: str) -> Image.Image:
    return Image.open(BytesIO(crew.lee.client.get(f"/photos/{sha256}").data))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photograph_is_kept_without_where_it_was_taken(crew: Crew, kind: str) -> None:
    content = picture(kind)
    assert Image.open(BytesIO(content)).getexif().get_ifd(GPS)
    page = noted(crew, (content, "dent"))
    assert page.status == 200, page.says
    assert "Photograph 1 of 1" in page.says
    (sha256,) = kept(crew)
    answer = crew.pat.client.get(f"/photos/{sha256}")
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    image = Image.open(BytesIO(answer.data))
    assert image.format == "JPEG"
    assert not dict(image.getexif())
    assert not {"exif", "xmp", "icc_profile", "comment"} & image.info.keys()
    assert b"Invented Phones" not in answer.data
    assert crew.harbour.agrees()


def test_it_stands_upright_and_is_made_small(crew: Crew) -> None:
    noted(crew, (picture(size=(4000, 2000), turned=6), "turned.jpg"))
    image = seen(crew, kept(crew)[0])
    assert image.size == (800, 1600)
    red, _, blue = image.convert("RGB").getpixel((400, 100))
    assert red > 200 > blue


def test_only_who_is_signed_in_sees_it(crew: Crew) -> None:
    noted(crew, (picture(), "dent.jpg"))
    answer = crew.nobody.client.get(f"/photos/{kept(crew)[0]}")
    assert answer.status_code == 303
    for wrong in ("0" * 64, "nothing", "a" * 63):
        assert crew.kim.get(f"/photos/{wrong}").status == 404


def test_four_at_once_and_a_link_to_each(crew: Crew) -> None:
    files = [(picture(size=(400 + n, 200)), f"{n}.jpg") for n in range(4)]
    page = noted(crew, *files)
    links = {link for link in page.read.links if link.startswith("/photos/")}
    assert links == {f"/photos/{one}" for one in kept(crew)}
    assert len(links) == 4


def huge() -> bytes:
    """A PNG of 41 megapixels, which is small as a file."""
    out = BytesIO()
    Image.new("1", (8200, 5000)).save(out, "PNG")
    return out.getvalue()


def cut_short() -> bytes:
    content = picture(size=(3000, 2000))
    return content[: len(content) // 2]


HEIC = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00heicmif1" + bytes(200)


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ([(b"not a picture", "notes.jpg")], "'notes.jpg', which cannot be read"),
        ([(cut_short(), "half.jpg")], "'half.jpg', which cannot be read"),
        ([(huge(), "wall.png")], "'wall.png', of more than 40 megapixels"),
        ([(HEIC, "IMG_1.HEIC")], "'IMG_1.HEIC', a HEIC photograph, which cannot be read here"),
        ([(b"", "empty.jpg")], "'empty.jpg', an empty file"),
        ([(picture(), f"{n}.jpg") for n in range(5)], "5 photographs, expected at most 4"),
        ([(picture() + bytes(photos.MOST_BYTES), "fat.jpg")], "'fat.jpg', larger than 12 MB"),
        ([(b"GIF89a" + bytes(50), "a.gif"), (b"x", "b.jpg")], "'a.gif', which cannot be read"),
    ],
)
def test_a_file_at_fault_is_named_and_nothing_is_kept(
    crew: Crew, files: list[tuple[bytes, str]], says: str
) -> None:
    before = crew.harbour.count()
    page = noted(crew, *files)
    assert page.status == 400
    assert says in page.says
    assert "Choose the photographs again" in page.says
    assert re.search(r"take it again|leave some out|choose it again", page.says)
    assert "a dent" in page.answer.text
    assert crew.harbour.count() == before
    assert all(name in page.says for _, name in files[:2]) or len(files) == 5


def test_four_large_ones_fit_and_no_other_form_may_be_as_large(crew: Crew) -> None:
    large = [(picture() + bytes(8 * 2**20), f"{n}.jpg") for n in range(4)]
    assert noted(crew, *large).status == 200
    page = sent(crew, "note", "Log the note", {"text": "x"}, (bytes(20 * 2**20), "x.jpg"))
    assert page.status == 413
    assert "nothing was logged. Go back, and send less" in page.answer.text
    six = [(picture() + bytes(9 * 2**20), f"{n}.jpg") for n in range(6)]
    assert noted(crew, *six).status == 413
