"""Pages of a maker's manual beside a model's values: what is taken, who sees it, and the value that is from it."""

from __future__ import annotations

import io
import re
import zlib

import pikepdf
import pypdf
import pytest
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import DjangoAssertNumQueries, DjangoCaptureOnCommitCallbacks

from specs.models import SuspensionModel
from tests.factories import ShopFactory, SpecValueFactory, SuspensionModelFactory, UserFactory
from workshop.manuals.files import MOST_PAGES, ManualFile, ManualRefused, read_manual
from workshop.manuals.keeping import MOST_FILES, attach_page, page_of_value, take_page_off
from workshop.models import ManualPage, Shop, User
from workshop.tickets.attached import MOST_BYTES
from workshop.torque.certificates import CertificateRefused, read_certificate
from workshop.web.pdf_files import acts_by_itself, pdf_pages_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory.create()


@pytest.fixture
def mechanic(shop: Shop) -> User:
    return UserFactory.create(shop=shop, mechanic=True)


@pytest.fixture
def plume() -> SuspensionModel:
    return SuspensionModelFactory(maker="Kestrigan", name="Plume")


@pytest.fixture
def signed_in(client: Client, mechanic: User) -> Client:
    client.force_login(mechanic)
    return client


def picture(colour: str = "white") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (60, 80), colour).save(out, "PNG")
    return out.getvalue()


def pdf(pages: int = 1, *, packed: bool = False, script: bool = False) -> bytes:
    """A PDF made by an independent library, its objects packed in streams or not."""
    out, made = io.BytesIO(), pikepdf.new()
    for _ in range(pages):
        made.add_blank_page()
    if script:
        action = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.alert(1)"))
        made.Root.OpenAction = made.make_indirect(action)
    mode = pikepdf.ObjectStreamMode.generate if packed else pikepdf.ObjectStreamMode.disable
    made.save(out, object_stream_mode=mode)
    made.close()
    return out.getvalue()


def attach(shop: Shop, model: SuspensionModel, by: User, data: bytes = b"jpeg", **more: str) -> ManualPage:
    words = {"document": "Manual", "revision": "B", "page": "12", **more}
    return attach_page(shop=shop, model=model, by=by, file=ManualFile(data, "jpg"), **words)


@pytest.mark.parametrize("packed", [True, False])
@pytest.mark.parametrize("pages", [1, 3, 17])
def test_pages_of_a_pdf_are_counted_as_another_library_counts_them(pages: int, packed: bool) -> None:
    data = pdf(pages, packed=packed)
    assert pdf_pages_of(data) == len(pypdf.PdfReader(io.BytesIO(data)).pages) == pages
    assert not acts_by_itself(data)


def test_a_script_packed_in_a_stream_is_seen() -> None:
    hidden = pdf(packed=True, script=True)
    assert b"/JavaScript" not in hidden
    with pytest.raises(ManualRefused, match="more than show pages"):
        read_manual(io.BytesIO(hidden))
    with pytest.raises(CertificateRefused, match="more than show pages"):
        read_certificate(io.BytesIO(hidden))


def test_a_picture_is_written_anew_and_a_pdf_kept_as_it_is() -> None:
    taken = read_manual(io.BytesIO(picture()), name="page.pdf")
    assert (taken.kind, taken.pages, taken.data[:2]) == ("jpg", 1, b"\xff\xd8")
    given = pdf(2)
    kept = read_manual(io.BytesIO(given))
    assert (kept.kind, kept.pages, kept.data) == ("pdf", 2, given)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"%PDF-1.7" + b" " * MOST_BYTES, "larger than 10 MB"),
        (picture() + b" " * MOST_BYTES, "larger than 10 MB"),
        (b"MZ this is a program", "is no PDF, whatever it is called"),
        (b"<html><script>alert(1)</script>", "is no PDF, whatever it is called"),
        (b"", "is no PDF, whatever it is called"),
        (pdf()[:-8], "broken or incomplete"),
        (b"%PDF-1.7\n1 0 obj<<>>endobj\n%%EOF\n", "cannot be read"),
        (pdf(script=True), "more than show pages"),
        (pdf(MOST_PAGES + 1), f"{MOST_PAGES + 1} pages"),
        (pdf(MOST_PAGES + 1, packed=True), f"{MOST_PAGES + 1} pages"),
    ],
    ids=["large", "large picture", "program", "page", "empty", "cut off", "no pages", "acts", "many", "many packed"],
)
def test_what_is_no_plain_page_is_refused(data: bytes, said: str) -> None:
    with pytest.raises(ManualRefused, match=said):
        read_manual(io.BytesIO(data), name="“page.pdf”")


def test_a_stream_that_unfolds_for_ever_costs_no_more_than_is_looked_at() -> None:
    folded = zlib.compress(b"/Type /Page " * 20_000_000, 9)
    assert len(folded) < MOST_BYTES
    bomb = b"%PDF-1.7\n1 0 obj<</Type /ObjStm /Filter /FlateDecode>>stream\n" + folded + b"\nendstream\n%%EOF\n"
    assert 0 < pdf_pages_of(bomb) < 2_000_000


def test_a_page_is_attached_seen_and_taken_off(
    signed_in: Client, plume: SuspensionModel,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:  # fmt: skip
    url = reverse("office:specs_manual", args=[plume.pk])
    sent = {"document": "Manual", "revision": "B", "page": "12"}
    response = signed_in.post(url, {**sent, "file": SimpleUploadedFile("page.png", picture())}, follow=True)
    assert "The page is attached" in response.content.decode()
    page = ManualPage.objects.get()
    assert page.source == "Manual, B, p. 12"
    shown = signed_in.get(reverse("office:specs_manual_file", args=[page.pk]))
    assert shown["Content-Type"] == "image/jpeg"
    assert shown["X-Content-Type-Options"] == "nosniff"
    assert b"".join(shown.streaming_content)[:2] == b"\xff\xd8"  # type: ignore[attr-defined]
    name = page.file.name
    assert name
    assert name.startswith("manuals/")
    assert default_storage.exists(name)
    with django_capture_on_commit_callbacks(execute=True):
        signed_in.post(reverse("office:specs_manual_off", args=[page.pk]))
    assert not ManualPage.objects.exists()
    assert not default_storage.exists(name)


def test_a_pdf_is_shown_by_the_browser_within_our_own_pages_only(
    signed_in: Client, shop: Shop, plume: SuspensionModel, mechanic: User
) -> None:
    page = attach_page(
        shop=shop, model=plume, by=mechanic, document="Manual", revision="", page="",
        file=read_manual(io.BytesIO(pdf(3))),
    )  # fmt: skip
    address = reverse("office:specs_manual_file", args=[page.pk])
    answer = signed_in.get(address)
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Security-Policy"] == "default-src 'none'; frame-ancestors 'self'"
    assert answer["X-Frame-Options"] == "SAMEORIGIN"
    for name in ("specs_page", "specs_manual"):
        beside = signed_in.get(reverse(f"office:{name}", args=[plume.pk]))
        assert f'<iframe class="manual__pdf" src="{address}"' in beside.content.decode()
        assert "frame-src 'self'" in beside["Content-Security-Policy"]
        assert "frame-ancestors 'none'" in beside["Content-Security-Policy"]
    assert "frame-src" not in signed_in.get(reverse("office:specs"))["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("sent", "field", "reason"),
    [
        ({}, "file", "Choose a picture or a PDF"),
        ({"file": b"MZ"}, "file", "no PDF, whatever it is called"),
        ({"file": picture(), "document": " "}, "document", "Enter this."),
        ({"file": picture(), "document": "x" * 161}, "document", "160"),
    ],
)
def test_what_is_refused_stands_beside_its_field_and_the_words_stay(
    signed_in: Client, plume: SuspensionModel, sent: dict[str, object], field: str, reason: str
) -> None:
    more = {
        name: SimpleUploadedFile("page.pdf", value) if isinstance(value, bytes) else value
        for name, value in sent.items()
    }
    response = signed_in.post(
        reverse("office:specs_manual", args=[plume.pk]), {"document": "Manual", "page": "12", **more}
    )
    assert response.status_code == 422
    assert reason in response.context["form"].errors[field][0]
    assert response.context["form"]["page"].value() == "12"
    assert not ManualPage.objects.exists()


def test_pressed_twice_is_attached_once_and_the_same_file_is_not_two_pages(
    shop: Shop, plume: SuspensionModel, mechanic: User
) -> None:
    page = attach(shop, plume, mechanic)
    assert attach(shop, plume, mechanic) == page
    with pytest.raises(ManualRefused, match="attached to the model already"):
        attach(shop, plume, mechanic, page="13")
    assert ManualPage.objects.count() == 1


def test_a_shop_sees_its_own_pages_only_and_the_others_keep_the_same_bytes(
    client: Client, shop: Shop, plume: SuspensionModel, mechanic: User,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:  # fmt: skip
    other = UserFactory.create(shop=ShopFactory.create(), mechanic=True)
    ours, theirs = attach(shop, plume, mechanic), attach(known_shop(other), plume, other)
    client.force_login(other)
    assert client.get(reverse("office:specs_manual_file", args=[ours.pk])).status_code == 404
    assert client.post(reverse("office:specs_manual_off", args=[ours.pk])).status_code == 404
    assert list(client.get(reverse("office:specs_manual", args=[plume.pk])).context["manual"]) == [theirs]
    with django_capture_on_commit_callbacks(execute=True):
        take_page_off(page=ours)
    assert default_storage.exists(str(theirs.file.name))


def known_shop(user: User) -> Shop:
    assert user.shop is not None
    return user.shop


def test_a_model_keeps_so_many_files(shop: Shop, plume: SuspensionModel, mechanic: User) -> None:
    for number in range(MOST_FILES):
        attach(shop, plume, mechanic, f"page {number}".encode())
    with pytest.raises(ManualRefused, match="Remove one first"):
        attach(shop, plume, mechanic, b"one more")
    with pytest.raises(ValidationError, match="Name the manual"):
        attach(shop, SuspensionModelFactory(), mechanic, document=" ")


@pytest.mark.parametrize("broken", [{"document": ""}, {"file": ""}, {"pages": 0}])
def test_the_database_refuses_a_page_of_nothing(
    shop: Shop, plume: SuspensionModel, mechanic: User, broken: dict[str, object]
) -> None:
    page = attach(shop, plume, mechanic)
    with pytest.raises(IntegrityError), transaction.atomic():
        ManualPage.objects.filter(pk=page.pk).update(**broken)


def test_a_value_finds_the_page_it_is_from(shop: Shop, plume: SuspensionModel, mechanic: User) -> None:
    twelve, other = attach(shop, plume, mechanic, b"a"), attach(shop, plume, mechanic, b"b", page="13")
    whole = attach(shop, plume, mechanic, b"c", document="Whole manual", page="")
    pages = [twelve, other, whole]

    def of(document: str, revision: str, page: str) -> ManualPage | None:
        value = SpecValueFactory(
            model=SuspensionModelFactory(), source_document=document, source_revision=revision, source_page=page
        )
        return page_of_value(value, pages)

    assert of("manual ", "b", "13") == other
    assert of("Manual", "B", "14") is None
    assert of("Manual", "C", "12") is None
    assert of("Manual", "B", "") is None
    assert of("Whole manual", "B", "77") == whole


def test_the_page_stands_beside_the_values_when_the_second_person_checks(
    signed_in: Client, shop: Shop, plume: SuspensionModel, mechanic: User,
    django_assert_num_queries: DjangoAssertNumQueries, django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:  # fmt: skip
    page = attach(shop, plume, mechanic, document="Invented manual for tests", revision="A")
    SpecValueFactory(model=plume, quantity="axle_torque", entered_by=UserFactory())
    url = reverse("office:specs_unchecked")
    html = signed_in.get(url, {"model": plume.pk}).content.decode()
    assert f'src="{reverse("office:specs_manual_file", args=[page.pk])}"' in html
    assert f'href="#manual-{page.pk}"' in html
    assert f'id="manual-{page.pk}"' in html
    assert "manual__" not in signed_in.get(url).content.decode()
    with django_assert_max_num_queries(20) as few:
        signed_in.get(url, {"model": plume.pk})
    for quantity in ("stem_torque", "caliper_torque", "damper_oil"):
        SpecValueFactory(model=plume, quantity=quantity, entered_by=UserFactory(), copied_from=SuspensionModelFactory())
        attach(shop, plume, mechanic, quantity.encode(), page=quantity)
    with django_assert_num_queries(len(few)):
        signed_in.get(url, {"model": plume.pk})


def test_no_press_checks_more_than_one_value(signed_in: Client, plume: SuspensionModel) -> None:
    for quantity in ("axle_torque", "stem_torque", "caliper_torque"):
        SpecValueFactory(model=plume, quantity=quantity, entered_by=UserFactory())
    html = signed_in.get(reverse("office:specs_unchecked"), {"model": plume.pk}).content.decode()
    checks = re.findall(r'action="(/office/specs/values/\d+/check/)"', html)
    assert len(checks) == len(set(checks)) == 3
    signed_in.post(checks[0], {"model": plume.pk})
    assert plume.spec_values.exclude(checked_at=None).count() == 1
