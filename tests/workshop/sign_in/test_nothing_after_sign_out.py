"""After somebody signed out nothing of the shop is left to read: in the browser's cache, in a message, on Back."""

from __future__ import annotations

import pytest
from django.conf import settings as shop_settings
from django.test import Client
from django.urls import reverse

from tests.addresses import parts_of
from tests.factories import PASSWORD, UserFactory
from tests.full_shop import FullShop, full_shop
from workshop.models import User

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> User:
    return UserFactory(owner=True, with_password=True)


def add_a_colleague(client: Client) -> None:
    sent = {"username": "nils", "first_name": "Nils", "last_name": "Berg", "roles": ["counter"]}
    assert client.post(reverse("office:staff"), sent).status_code == 302


def test_a_first_password_that_nobody_read_is_not_said_to_the_next_at_the_device(client: Client, owner: User) -> None:
    client.force_login(owner)
    add_a_colleague(client)  # the page that says the password is not opened: somebody signs out in another tab
    client.post(reverse("sign_out"))
    page = client.get(reverse("sign_in")).text
    assert "Nils Berg" not in page
    assert "then chooses another" not in page


def test_a_message_is_kept_on_the_server_alone(client: Client, owner: User) -> None:
    client.force_login(owner)
    add_a_colleague(client)
    ours = {shop_settings.SESSION_COOKIE_NAME, shop_settings.CSRF_COOKIE_NAME}
    assert set(client.cookies) <= ours
    assert "then chooses another" in client.get(reverse("office:staff")).text


@pytest.fixture
def shop() -> FullShop:
    return full_shop("Aldermoor")


def test_pages_downloads_and_papers_are_not_to_be_kept(client: Client, shop: FullShop) -> None:
    client.force_login(shop.owner)
    for name in (
        "office:overview", "office:staff", "counter:today", "bench:board", "office:move_out", "office:books",
        "counter:small_photo", "counter:show_photo", "counter:photo",
    ):  # fmt: skip
        answer = client.get(reverse(name, kwargs=shop.arguments(name, parts_of(name))))
        assert "no-store" in answer.headers.get("Cache-Control", ""), name


def test_a_photo_is_kept_only_where_signing_out_takes_it_away(client: Client, shop: FullShop) -> None:
    """Browsers heed `Clear-Site-Data` over TLS alone."""
    client.force_login(shop.owner)
    address = reverse("counter:small_photo", args=[shop.ids["photo"]])
    assert client.get(address)["Cache-Control"] == "no-store"
    assert "private" in client.get(address, secure=True)["Cache-Control"]


def test_signing_out_tells_the_browser_to_forget_what_it_kept_but_not_what_waits(client: Client, owner: User) -> None:
    client.force_login(owner)
    said = client.post(reverse("sign_out"))["Clear-Site-Data"]
    # "storage" would take the answers that wait on the tablet along, "cookies" that the device was let in.
    assert said == '"cache"'


def test_what_everybody_may_read_is_kept_as_before(client: Client) -> None:
    assert "no-store" not in client.get(reverse("app_manifest"))["Cache-Control"]
    assert not client.get(reverse("sign_in")).has_header("Clear-Site-Data")


BLANKS = " " * 12


@pytest.mark.parametrize("blanks", [BLANKS, "\u00a0" * 12, "\u2003 \t" * 4], ids=["blanks", "no-break", "mixed"])
def test_blanks_are_no_password(client: Client, blanks: str) -> None:
    user = UserFactory(with_password=True)
    client.force_login(user)
    sent = {"old_password": PASSWORD, "new_password1": blanks, "new_password2": blanks}
    page = client.post(reverse("change_password"), sent)
    user.refresh_from_db()
    assert page.status_code == 200
    assert not user.check_password(blanks)
    assert "blanks" in page.text


@pytest.mark.parametrize("name", ["change_password", "second_factor"])
def test_guessing_the_password_waits_as_at_the_sign_in(client: Client, name: str) -> None:
    user = UserFactory(with_password=True)
    client.force_login(user)
    new = {"new_password1": "three forks on a green wall", "new_password2": "three forks on a green wall"}
    for _ in range(shop_settings.AXES_FAILURE_LIMIT):
        client.post(reverse(name), {"old_password": "wrong", "password": "wrong", "code": "000000"} | new)
    page = client.post(reverse(name), {"old_password": PASSWORD, "password": PASSWORD, "code": "000000"} | new)
    user.refresh_from_db()
    assert user.check_password(PASSWORD)
    assert "minutes" in page.text
    sign_in = Client().post(reverse("sign_in"), {"username": user.username, "password": PASSWORD})
    assert sign_in.status_code == 429  # it is the same count
