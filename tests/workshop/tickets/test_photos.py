"""Photos: only pictures, within limits, upright, and nothing kept but the picture."""

from __future__ import annotations

import hashlib
import io
import struct
import uuid
import zlib
from typing import Any

import pytest
from django.core.files.storage import default_storage
from PIL import Image, ImageFile

from tests import factories
from tests.known import known
from tests.logbook import said
from workshop.models import Photo
from workshop.tickets import photos
from workshop.tickets.photos import DecodedPhoto, PhotoRefused, add_photo, decode_photo


def picture(
    size: tuple[int, int] = (40, 30), colour: str | tuple[int, ...] = "red", kind: str = "JPEG", **options: Any
) -> bytes:
    out = io.BytesIO()
    Image.new(options.pop("mode", "RGB"), size, colour).save(out, kind, **options)
    return out.getvalue()


def colour_at(picture: Image.Image, place: tuple[int, int]) -> tuple[int, ...]:
    colour = picture.getpixel(place)
    assert isinstance(colour, tuple)
    return colour


def decode(data: bytes) -> DecodedPhoto:
    return decode_photo(io.BytesIO(data), name="“a.jpg”")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_becomes_a_jpeg_of_the_same_size(kind: str) -> None:
    photo = decode(picture(kind=kind))
    with Image.open(io.BytesIO(photo.jpeg)) as kept:
        assert (kept.format, kept.size, (photo.width, photo.height)) == ("JPEG", (40, 30), (40, 30))
        red, green, blue = colour_at(kept, (20, 15))
        assert red > 230
        assert max(green, blue) < 25
    assert photo.digest == hashlib.sha256(photo.jpeg).hexdigest()


def test_a_large_photo_is_kept_at_a_useful_size_with_a_small_one_beside() -> None:
    photo = decode(picture(size=(4000, 3000)))
    assert (photo.width, photo.height) == (2400, 1800)
    with Image.open(io.BytesIO(photo.small_jpeg)) as small:
        assert small.size == (480, 360)


def test_of_a_file_of_several_pictures_the_first_is_kept() -> None:
    """CIPA DC-007: phones write several pictures into one file that begins as a JPEG."""
    data = picture(kind="MPO", save_all=True, append_images=[Image.new("RGB", (40, 30), "blue")])
    with Image.open(io.BytesIO(decode(data).jpeg)) as kept:
        assert colour_at(kept, (20, 15))[0] > 230


def test_transparent_parts_become_white() -> None:
    photo = decode(picture(kind="PNG", mode="RGBA", colour=(0, 0, 0, 0)))
    with Image.open(io.BytesIO(photo.jpeg)) as kept:
        assert min(colour_at(kept, (5, 5))) > 250


def test_a_photo_taken_sideways_is_turned_upright_and_its_place_forgotten() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.3, table 4: Orientation 6, the 0th row is the right-hand side
    exif[0x010F] = "Invented camera"
    exif.get_ifd(0x8825)[1] = "N"  # GPS latitude reference
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    data = picture(size=(40, 20), exif=exif, comment=b"a secret comment")
    assert b"Invented camera" in data
    photo = decode(data)
    assert (photo.width, photo.height) == (20, 40)
    for kept in (photo.jpeg, photo.small_jpeg):
        assert b"Invented camera" not in kept
        assert b"Exif" not in kept
        assert b"secret" not in kept
        with Image.open(io.BytesIO(kept)) as opened:
            assert not opened.getexif()


def test_what_is_hidden_behind_a_picture_is_not_kept() -> None:
    """A file that is a JPEG and, to another reader, a page with a script or an archive."""
    data = picture() + b"<script>alert(1)</script>PK\x03\x04"
    photo = decode(data)
    assert b"script" not in photo.jpeg
    assert b"PK\x03\x04" not in photo.jpeg
    assert photo.jpeg.endswith(b"\xff\xd9")


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a picture at all",
        SVG,
        b"%PDF-1.7\n",
        b"GIF89a" + b"\0" * 40,
        b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 40,
        picture(kind="BMP"),
        picture(kind="TIFF"),
    ],
    ids=["empty", "text", "svg", "pdf", "gif", "heic", "bmp", "tiff"],
)
def test_what_is_no_photo_is_refused(data: bytes) -> None:
    with pytest.raises(PhotoRefused, match="no photo that can be read"):
        decode(data)


@pytest.mark.parametrize("cut", [0.3, 0.6, 0.9])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_cut_short_is_refused(kind: str, cut: float, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as a process has it that made a PDF before
    noisy = io.BytesIO()
    Image.effect_noise((300, 300), 80).convert("RGB").save(noisy, kind)
    whole = noisy.getvalue()
    with pytest.raises(PhotoRefused, match=r"broken|no photo"):
        decode(whole[: int(len(whole) * cut)])


def test_a_file_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MOST_BYTES", 1024 * 1024)
    with pytest.raises(PhotoRefused, match="larger than 1 MB"):
        decode(picture() + b"\0" * (1024 * 1024))


def png_that_claims(width: int, height: int) -> bytes:
    """A few bytes that say they are a huge picture."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 100_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize("side", [9_000, 12_000, 60_000])
def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused(side: int) -> None:
    with pytest.raises(PhotoRefused, match="megapixels"):
        decode(png_that_claims(side, side))


@pytest.mark.django_db
def test_a_photo_is_kept_under_its_digest_and_logged() -> None:
    ticket, photo = factories.TicketFactory(), decode(picture())
    row = add_photo(ticket=ticket, by=None, photo=photo, caption=" Left stanchion ")
    assert row.file.name == f"photos/{photo.digest[:2]}/{photo.digest}.jpg"
    with default_storage.open(row.file.name) as kept:
        assert hashlib.sha256(kept.read()).hexdigest() == row.digest
    assert default_storage.exists(known(row.thumbnail.name))
    assert row.caption == "Left stanchion"
    assert said(ticket.events.get()) == "Photo added: Left stanchion"


@pytest.mark.django_db
def test_a_photo_sent_twice_is_kept_once() -> None:
    ticket, photo, key = factories.TicketFactory(), decode(picture()), uuid.uuid4()
    first = add_photo(ticket=ticket, by=None, photo=photo, client_id=key)
    assert add_photo(ticket=ticket, by=None, photo=photo, client_id=key) == first
    assert Photo.objects.count() == 1


@pytest.mark.django_db
def test_a_file_whose_writing_was_cut_short_is_written_again() -> None:
    ticket, photo = factories.TicketFactory(), decode(picture())
    row = add_photo(ticket=ticket, by=None, photo=photo)
    with open(default_storage.path(known(row.file.name)), "wb") as half:
        half.write(photo.jpeg[:10])
    again = add_photo(ticket=ticket, by=None, photo=photo)
    assert again.file.name == row.file.name
    with default_storage.open(known(again.file.name)) as kept:
        assert kept.read() == photo.jpeg
