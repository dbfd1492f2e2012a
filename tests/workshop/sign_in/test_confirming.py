"""What is dearest asks for the password anew, and what was typed goes along."""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Callable
from html import unescape

import pytest
from django.conf import settings as shop_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import Settings

from tests.factories import PASSWORD, CustomerFactory, UserFactory
from workshop.models import Device, Erasure, OpenSession, ReceiptSettings, SecurityEvent, User
from workshop.staff import second_factor
from workshop.staff.one_time_codes import new_secret
from workshop.till.receipt_settings import receipt_settings_of

pytestmark = pytest.mark.django_db
NILS = {"username": "nils", "first_name": "Nils", "last_name": "Berg", "roles": ["counter", "mechanic"]}


@pytest.fixture
def owner() -> User:
    return UserFactory(owner=True, with_password=True)


@pytest.fixture
def office(client: Client, owner: User, settings: Settings) -> Client:
    """Signed in as owner, longer ago than a password holds."""
    client.force_login(owner)
    let_it_lapse(settings)
    return client


def let_it_lapse(settings: Settings) -> None:
    settings.CONFIRMED_FOR_MINUTES = 5
    for row in OpenSession.objects.all():
        row.began_at -= dt.timedelta(hours=1)
        row.save(update_fields=["began_at"])


def carried(page: str) -> dict[str, list[str]]:
    """What the page that asks would send along."""
    found: dict[str, list[str]] = {}
    for name, value in re.findall(r'<textarea name="([^"]+)" hidden[^>]*>\n(.*?)</textarea>', page, re.DOTALL):
        found.setdefault(name, []).append(unescape(value))
    return found


ACTS: list[tuple[str, Callable[[User], list[int]], dict[str, object]]] = [
    ("office:staff", lambda _: [], dict(NILS)),
    ("office:staff_member", lambda member: [member.pk], {**NILS, "seen_version": 1}),
    ("office:staff_password", lambda member: [member.pk], {}),
    ("office:staff_active", lambda member: [member.pk], {"active": "0"}),
    ("office:staff_prices", lambda member: [member.pk], {"allowed": "1"}),
    ("office:staff_second_factor_off", lambda member: [member.pk], {}),
    ("office:devices", lambda _: [], {"name": "Bench tablet"}),
    ("office:mail", lambda _: [], {"host": "mail.example"}),
    ("office:mail_arrived", lambda _: [], {"code": "123456"}),
    ("office:shop_settings", lambda _: [], {"name": "Another"}),
    ("office:receipts", lambda _: [], {"tax_number": "1"}),
    ("office:prices", lambda _: [], {}),
    ("office:set_tax_rate", lambda _: [], {}),
    ("office:backups", lambda _: [], {"folder": "/mnt/backup"}),
]


@pytest.mark.parametrize(("name", "key", "sent"), ACTS, ids=[name for name, *_ in ACTS])
def test_asks_first_and_does_nothing(
    office: Client, owner: User, name: str, key: Callable[[User], list[int]], sent: dict[str, object]
) -> None:
    member = UserFactory(shop=owner.shop, with_password=True)
    before = User.objects.values_list("pk", "password", "roles", "is_active", "sets_prices", "username").order_by("pk")
    stood = list(before)
    answer = office.post(reverse(name, args=key(member)), sent)
    assert answer.status_code == 401
    assert "Is it you?" in answer.text
    assert "no-store" in answer["Cache-Control"]
    assert list(before.all()) == stood
    assert not Device.objects.exists()
    assert not SecurityEvent.objects.exists()


def test_what_was_typed_goes_along_and_is_done_once_the_password_is_right(office: Client) -> None:
    page = office.post(reverse("office:staff"), NILS)
    along = carried(page.text)
    assert along == {name: value if isinstance(value, list) else [value] for name, value in NILS.items()}
    wrong = office.post(reverse("office:staff"), {**along, "confirm_password": "wrong"})
    assert wrong.status_code == 401
    assert "That is not your password." in wrong.text
    assert carried(wrong.text) == along
    done = office.post(reverse("office:staff"), {**along, "confirm_password": PASSWORD})
    assert (done.status_code, done.headers["Location"]) == (302, reverse("office:staff"))
    assert User.objects.get(username="nils").roles == "counter mechanic"


def test_for_some_minutes_nothing_asks_again(office: Client, settings: Settings) -> None:
    office.post(reverse("office:staff"), {**NILS, "confirm_password": PASSWORD})
    assert office.post(reverse("office:devices"), {"name": "Bench tablet"}).status_code == 302
    settings.CONFIRMED_FOR_MINUTES = 0
    assert office.post(reverse("office:devices"), {"name": "Another"}).status_code == 401


def test_words_of_several_lines_and_signs_go_along_as_they_were(office: Client) -> None:
    typed = '\r\nOne <b>"line"\r\n\r\n  & another \r\n'
    along = carried(office.post(reverse("office:shop_settings"), {"address": typed}).text)
    assert along["address"] == [typed]


def test_a_small_file_goes_along(office: Client, owner: User) -> None:
    assert owner.shop is not None
    logo = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(logo, "PNG")
    seen = receipt_settings_of(owner.shop).version
    sent = {
        "tax_number": "T-1", "registration_number": "", "foot": "Thanks", "seen_version": seen,
        "logo": SimpleUploadedFile("mark.png", logo.getvalue(), "image/png"),
    }  # fmt: skip
    along = carried(office.post(reverse("office:receipts"), sent).text)
    done = office.post(reverse("office:receipts"), {**along, "confirm_password": PASSWORD})
    assert done.status_code == 302
    stored = ReceiptSettings.objects.get(shop=owner.shop)
    assert (stored.tax_number, bool(stored.logo)) == ("T-1", True)


def test_a_sign_in_by_password_counts_as_one(owner: User, settings: Settings) -> None:
    settings.CONFIRMED_FOR_MINUTES = 5
    client = Client()
    client.post(reverse("sign_in"), {"username": owner.username, "password": PASSWORD, "next": ""})
    assert client.post(reverse("office:staff"), NILS).status_code == 302


def test_looking_asks_nothing(office: Client) -> None:
    for name in ("office:staff", "office:shop_settings", "office:devices"):
        assert office.get(reverse(name)).status_code == 200


def test_wrong_ones_wait_as_at_the_sign_in_and_still_lose_nothing(office: Client, owner: User) -> None:
    for _ in range(shop_settings.AXES_FAILURE_LIMIT):
        office.post(reverse("office:staff"), {**NILS, "confirm_password": "wrong"})
    page = office.post(reverse("office:staff"), {**NILS, "confirm_password": PASSWORD})
    assert page.status_code == 401
    assert "Too many wrong passwords. Try again in 15 minutes." in page.text
    assert carried(page.text)["username"] == ["nils"]
    assert not User.objects.filter(username="nils").exists()
    elsewhere = Client().post(reverse("sign_in"), {"username": owner.username, "password": PASSWORD})
    assert elsewhere.status_code == 429


def test_a_right_one_forgets_the_wrong_ones_before_it(office: Client, settings: Settings) -> None:
    settings.CONFIRMED_FOR_MINUTES = 0  # it is asked each time
    for _ in range(2):
        for _ in range(shop_settings.AXES_FAILURE_LIMIT - 1):
            office.post(reverse("office:staff"), {**NILS, "confirm_password": "wrong"})
        office.post(reverse("office:devices"), {"name": "", "confirm_password": PASSWORD})
    assert office.post(reverse("office:staff"), {**NILS, "confirm_password": PASSWORD}).status_code == 302


def test_the_second_factor_is_asked_for_too(office: Client, owner: User, monkeypatch: pytest.MonkeyPatch) -> None:
    steps = {"111111": 1, "222222": 2}
    monkeypatch.setattr(second_factor, "matching_step", lambda secret, typed, now: steps.get(typed))
    second_factor.set_up_second_factor(user=owner, secret=new_secret(), typed="111111")
    page = office.post(reverse("office:staff"), NILS)
    assert "Code of your authenticator app" in page.text
    without = office.post(reverse("office:staff"), {**NILS, "confirm_password": PASSWORD, "confirm_code": ""})
    assert without.status_code == 401
    used = office.post(reverse("office:staff"), {**NILS, "confirm_password": PASSWORD, "confirm_code": "111111"})
    assert used.status_code == 401
    done = office.post(reverse("office:staff"), {**NILS, "confirm_password": PASSWORD, "confirm_code": "222222"})
    assert done.status_code == 302


def test_the_page_that_asks_pressed_twice_is_done_once(office: Client) -> None:
    sent = {**NILS, "csrfmiddlewaretoken": "a" * 32, "confirm_password": PASSWORD}
    answers = [office.post(reverse("office:staff"), sent) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert User.objects.filter(username="nils").count() == 1


def test_everything_is_taken_along_only_after_it(office: Client) -> None:
    first = office.get(reverse("office:move_out"))
    assert first.status_code == 302
    asked = office.get(first.headers["Location"])
    assert "Is it you?" in asked.text
    sent = {"next": reverse("office:moving"), "confirm_password": PASSWORD}
    assert office.post(reverse("confirm"), sent).headers["Location"] == reverse("office:moving")
    assert office.get(reverse("office:move_out"))["Content-Type"] == "application/zip"
    assert SecurityEvent.objects.get().kind == "took_everything"


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "12"])
def test_a_page_of_somewhere_else_is_not_opened_after_it(office: Client, elsewhere: str) -> None:
    answer = office.post(reverse("confirm"), {"next": elsewhere, "confirm_password": PASSWORD})
    assert answer.headers["Location"] == reverse("home")


def test_erasing_a_person_asks_and_is_written_down_without_their_name(office: Client, owner: User) -> None:
    customer = CustomerFactory(shop=owner.shop, name="Jana Novák")
    address = reverse("office:privacy_erase", args=[customer.pk])
    sent = {"reason": "asked for it", "name": "Jana Novák"}
    assert office.post(address, sent).status_code == 401
    assert not Erasure.objects.exists()
    assert office.post(address, {**sent, "confirm_password": PASSWORD}).status_code == 302
    assert Erasure.objects.exists()
    event = SecurityEvent.objects.get()
    assert (event.kind, event.values) == ("erased", {"customer": customer.pk})


def test_a_short_code_is_no_password(office: Client, owner: User) -> None:
    session = office.session
    session["by_code"] = True
    session["confirmed_at"] = 1e12
    session.save()
    assert office.post(reverse("office:staff"), NILS).status_code == 403
    assert not User.objects.filter(username="nils").exists()
