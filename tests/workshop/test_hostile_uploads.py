"""Whatever file is sent, under whatever name: it is taken for what it is, or refused in words.

HYPOTHESIS_PROFILE=thorough tries many times as much.
"""

from __future__ import annotations

import io
import logging
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pytest_django.asserts import assertContains

from diagnosis.uploads import UnreadableUpload, texts_of
from tests.factories import TicketFactory, UserFactory
from tests.full_shop import FullShop
from tests.workshop.hostile_files import AVIF, GPX, HEIC, JPEG, NAMES, files, names, with_exif, zip_of
from tests.workshop.test_hostile_input import THE_SAME_DATABASE, found_forms, owner, shop
from tests.workshop.test_who_may_enter import undone
from workshop.intervals.gpx import GpxRefused
from workshop.intervals.uploads import read_upload
from workshop.models import Photo
from workshop.tickets.photos import LONG_SIDE_PX, SMALL_SIDE_PX, PhotoRefused, decode_photo
from workshop.web.uploads import RefuseHugeMiddleware, file_name

# What Pillow says of damaged EXIF is a warning in a shop; in these tests any warning is an error.
pytestmark = pytest.mark.filterwarnings("ignore::UserWarning:PIL")
__all__ = ["owner", "shop"]
R = TypeVar("R")


def taken_or_refused(take: Callable[[], R], refusal: type[Exception]) -> tuple[R | None, str]:
    """What came of it, or the words of its refusal; any other error fails the test."""
    try:
        return take(), ""
    except refusal as refused:
        return None, str(refused)


def sent_as(name: str, content: bytes, kind: str = "image/jpeg") -> SimpleUploadedFile:
    """A file under a name as the line sends it, past what Django's own class makes of it."""
    file = SimpleUploadedFile("x", content, kind)
    file.__dict__["_name"] = name
    return file


@THE_SAME_DATABASE
@given(content=files)
def test_a_photo_is_a_new_jpeg_or_refused_in_words(content: bytes) -> None:
    photo, said = taken_or_refused(lambda: decode_photo(io.BytesIO(content)), PhotoRefused)
    if photo is None:
        assert said.endswith(".']")
        return
    for jpeg, longest in ((photo.jpeg, LONG_SIDE_PX), (photo.small_jpeg, SMALL_SIDE_PX)):
        with Image.open(io.BytesIO(jpeg), formats=["JPEG"]) as kept:
            kept.load()
            assert max(kept.size) <= longest
            assert not kept.getexif()
            assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "progressive", "progression"}
        assert jpeg.endswith(b"\xff\xd9")
        assert b"script" not in jpeg


def test_a_photo_keeps_neither_place_nor_camera_nor_colour_profile() -> None:
    photo = decode_photo(io.BytesIO(with_exif()))
    assert (photo.width, photo.height) == (40, 60)
    for word in (b"Exif", b"Invented camera", b"A comment", b"colour profile", b"secret"):
        assert word not in photo.jpeg + photo.small_jpeg


@pytest.mark.parametrize("size", [(1, 1), (1, 30_000), (30_000, 1), (60_000, 1000)])
def test_a_photo_of_odd_measures_is_kept_within_the_limits(size: tuple[int, int]) -> None:
    out = io.BytesIO()
    Image.new("L", size).save(out, "PNG", compress_level=1)
    photo = decode_photo(io.BytesIO(out.getvalue()))
    assert 1 <= min(photo.width, photo.height) <= max(photo.width, photo.height) <= LONG_SIDE_PX


@pytest.mark.parametrize("content", [HEIC, AVIF], ids=["heic", "avif"])
def test_a_phones_own_format_is_refused_with_what_to_set(content: bytes) -> None:
    with pytest.raises(PhotoRefused, match=r"HEIC or AVIF.*set its camera to JPEG"):
        decode_photo(io.BytesIO(content))


@THE_SAME_DATABASE
@given(content=files)
def test_a_track_is_rides_or_refused_in_words(content: bytes) -> None:
    file = io.BytesIO(content)
    read, said = taken_or_refused(
        lambda: read_upload(file, name="The file", now=timezone.now(), most_points=10_000), GpxRefused
    )
    assert read is not None or said.endswith(".")
    for ride in read.rides if read else []:
        assert 0 <= ride.moving_s <= (ride.ended_at - ride.began_at).total_seconds()


@THE_SAME_DATABASE
@given(content=files)
def test_a_file_of_checklists_is_texts_or_refused_in_words(content: bytes) -> None:
    texts, said = taken_or_refused(lambda: texts_of(content), UnreadableUpload)
    assert texts or said.endswith(".")


@given(names)
def test_a_files_name_is_said_in_one_short_line(name: str) -> None:
    said = file_name(sent_as(name, b""))
    assert said.isprintable()
    assert len(said) <= 62


def test_a_name_in_a_zip_is_said_in_one_short_line() -> None:
    content = zip_of({"a.gpx": GPX, "\u202eb\r\nc" + "x" * 300 + ".gpx": b"<gpx"})
    [refused] = read_upload(io.BytesIO(content), name="The file", now=timezone.now()).refused
    assert refused.isprintable()
    assert len(refused) < 200


@pytest.mark.django_db
@pytest.mark.parametrize("name", NAMES)
def test_the_name_of_a_file_decides_nothing(client: Client, name: str, tmp_path: Path) -> None:
    clerk = UserFactory()
    ticket = TicketFactory(shop=clerk.shop)
    client.force_login(clerk)
    address = reverse("counter:add_photos", args=[ticket.number])
    client.post(address, {"photos": sent_as(name, JPEG, "text/html")})
    for row in Photo.objects.all():
        assert row.file.name == f"photos/{row.digest[:2]}/{row.digest}.jpg"
        served = client.get(reverse("counter:photo", args=[row.pk]))
        assert (served["Content-Type"], served["X-Content-Type-Options"]) == ("image/jpeg", "nosniff")
        assert served["Content-Disposition"] == f'inline; filename="{row.digest}.jpg"'
    assert {path.suffix for path in tmp_path.rglob("*") if path.is_file()} <= {".jpg"}
    page = client.post(address, {"photos": sent_as(name, b"no photo")})
    assert page.status_code in {302, 400, 422}  # 400: a name longer than any disk has
    assert "<script>.jpg" not in page.content.decode()


@pytest.mark.django_db
def test_no_form_breaks_whatever_file_is_sent_with_it(
    owner: Client, shop: FullShop, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.CRITICAL)
    forms = [one for one in found_forms(owner, shop) if any(field.kind == "file" for field in one[3].fields.values())]
    wanted = {"counter:book_in", "bench:photo", "customer:send_tracks", "office:move_in"}
    assert {one[0] for one in forms} >= wanted

    @THE_SAME_DATABASE
    @given(st.data())
    def try_one(data: st.DataObject) -> None:
        route, method, address, form, sender = data.draw(st.sampled_from(forms))
        sent: dict[str, Any] = dict(form.filled())
        for field in form.fields.values():
            if field.kind == "file":
                kind = data.draw(st.sampled_from(["", "image/svg+xml", "text/html; charset=nonsense"]))
                sent[field.name] = sent_as(data.draw(names), data.draw(files), kind)
        assert undone(sender, method, address, sent).status_code < 500, route

    try_one()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("mb", "signed_in", "status"), [(60, False, 200), (65, False, 413), (250, True, 200), (257, True, 413)]
)
def test_more_than_any_form_sends_is_refused_before_it_is_read(mb: int, signed_in: bool, status: int) -> None:
    request = RequestFactory().post(reverse("sign_in"), CONTENT_LENGTH=str(mb << 20))
    request.user = UserFactory() if signed_in else AnonymousUser()
    assert RefuseHugeMiddleware(lambda request: HttpResponse())(request).status_code == status
    assert vars(request)["_read_started"] is False


@pytest.mark.django_db
def test_what_is_too_large_is_said_on_a_page(client: Client) -> None:
    assertContains(client.post(reverse("sign_in"), {"x": "x"}, CONTENT_LENGTH="9" * 20), "too large", status_code=413)


@pytest.mark.django_db
def test_more_fields_than_any_form_has_are_refused_on_a_page(client: Client) -> None:
    page = client.post(reverse("sign_in"), {f"x{number}": "" for number in range(2000)})
    assertContains(page, "cannot be read", status_code=400)
    assert not default_storage.exists("photos")
