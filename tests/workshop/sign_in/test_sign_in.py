"""Signing in and out, the lock-out after failed tries, and the first password."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from axes.models import AccessAttempt
from django.contrib.auth.hashers import identify_hasher
from django.test import Client
from django.urls import reverse
from pytest_django import Settings
from pytest_django.asserts import assertContains, assertRedirects, assertTemplateUsed

from tests.factories import PASSWORD, UserFactory
from tests.squeezed import squeezed
from workshop.models import User

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

pytestmark = pytest.mark.django_db

NEW_PASSWORD = "three forks on a green wall"  # noqa: S105  opens nothing


def sign_in(client: Client, username: str, password: str, **extra: Any) -> Answer:
    return client.post(reverse("sign_in"), {"username": username, "password": password, "next": ""}, **extra)


def test_the_right_password_signs_in(client: Client) -> None:
    user = UserFactory(with_password=True)
    response = sign_in(client, user.username, PASSWORD)
    assertRedirects(response, reverse("home"), fetch_redirect_response=False)
    assert client.session["_auth_user_id"] == str(user.pk)


@pytest.mark.parametrize(
    ("role", "first_page"),
    [("counter", "counter:today"), ("mechanic", "bench:board"), ("owner", "office:overview")],
)
def test_each_role_starts_where_its_day_starts(client: Client, role: str, first_page: str) -> None:
    client.force_login(UserFactory(role=role))
    assertRedirects(client.get(reverse("home")), reverse(first_page), fetch_redirect_response=False)


def test_after_signing_in_the_page_asked_for_opens(client: Client) -> None:
    user = UserFactory(with_password=True)
    wanted = client.get(reverse("bench:board") + "?mine=1")
    assertRedirects(wanted, reverse("sign_in") + "?next=/bench/%3Fmine%3D1")
    answer = client.post(
        wanted["Location"], {"username": user.username, "password": PASSWORD, "next": "/bench/?mine=1"}
    )
    assertRedirects(answer, "/bench/?mine=1", fetch_redirect_response=False)


def test_a_page_of_somebody_else_is_not_opened_after_signing_in(client: Client) -> None:
    user = UserFactory(with_password=True)
    form = {"username": user.username, "password": PASSWORD, "next": "https://elsewhere.example/"}
    assertRedirects(client.post(reverse("sign_in"), form), reverse("home"), fetch_redirect_response=False)


@pytest.mark.parametrize("wrong", ["unknown", "password", "inactive"])
def test_a_failed_try_does_not_say_what_was_wrong(client: Client, wrong: str) -> None:
    user = UserFactory(with_password=True, is_active=wrong != "inactive")
    username = "nobody" if wrong == "unknown" else user.username
    response = sign_in(client, username, "not this one" if wrong == "password" else PASSWORD)
    assertContains(response, "That name and password do not go together.")
    assertContains(response, f'value="{username}"')  # what was typed stays
    assert "_auth_user_id" not in client.session


def test_six_failed_tries_lock_the_name_out_at_that_address(client: Client, settings: Settings) -> None:
    user = UserFactory(with_password=True)
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert sign_in(client, user.username, "wrong").status_code == 200
    response = sign_in(client, user.username, "wrong")
    assert response.status_code == 429
    assertTemplateUsed(response, "staff/locked_out.html")
    assert response.status_code == 429
    assert f"{settings.AXES_COOLOFF_TIME * 60:.0f} minutes" in squeezed(response.text)
    assert sign_in(client, user.username, PASSWORD).status_code == 429
    elsewhere = sign_in(client, user.username, PASSWORD, REMOTE_ADDR="192.0.2.7")
    assertRedirects(elsewhere, reverse("home"), fetch_redirect_response=False)


def test_behind_a_proxy_the_address_is_the_one_the_proxy_saw(client: Client, settings: Settings) -> None:
    settings.BEHIND_PROXY = True
    user = UserFactory(with_password=True)
    for n in range(settings.AXES_FAILURE_LIMIT):
        # What a browser claims comes first in the header and changes; what the proxy adds comes last.
        response = sign_in(client, user.username, "wrong", HTTP_X_FORWARDED_FOR=f"203.0.113.{n}, 192.0.2.7")
    assert response.status_code == 429
    elsewhere = sign_in(client, user.username, PASSWORD, HTTP_X_FORWARDED_FOR="203.0.113.1, 192.0.2.8")
    assert elsewhere.status_code == 302


def test_signing_out_ends_the_session_and_twice_is_no_error(client: Client) -> None:
    client.force_login(UserFactory())
    for _ in range(2):
        assertRedirects(client.post(reverse("sign_out")), reverse("sign_in"))
    assert "_auth_user_id" not in client.session


def test_a_link_cannot_sign_anybody_out(client: Client) -> None:
    client.force_login(UserFactory())
    assert client.get(reverse("sign_out")).status_code == 405
    assert "_auth_user_id" in client.session


def test_a_first_password_opens_nothing_but_the_choice_of_another(client: Client) -> None:
    client.force_login(UserFactory(must_change_password=True))
    assertRedirects(client.get(reverse("counter:today")), reverse("change_password"))
    assertRedirects(client.post(reverse("counter:today")), reverse("change_password"))
    htmx = client.get(reverse("counter:today"), headers={"HX-Request": "true"})
    assert htmx.headers["HX-Redirect"] == reverse("change_password")
    assertRedirects(client.post(reverse("sign_out")), reverse("sign_in"))


def test_a_chosen_password_opens_the_shop(client: Client) -> None:
    user = UserFactory(with_password=True, must_change_password=True)
    client.force_login(user)
    form = {"old_password": PASSWORD, "new_password1": NEW_PASSWORD, "new_password2": NEW_PASSWORD}
    assertRedirects(client.post(reverse("change_password"), form), reverse("home"), fetch_redirect_response=False)
    user.refresh_from_db()
    assert not user.must_change_password
    assert user.check_password(NEW_PASSWORD)
    assert client.get(reverse("home")).status_code == 302  # still signed in


@pytest.mark.parametrize(
    ("change", "field", "complaint"),
    [
        ({"old_password": "wrong"}, "old_password", "That is not your password."),
        ({"old_password": ""}, "old_password", "Type the password that you came in with."),
        (
            {"new_password1": "short", "new_password2": "short"},
            "new_password1",
            "That is too short. Take 10 letters, digits or signs at least; three or four words do well.",
        ),
        (
            {"new_password1": "password123", "new_password2": "password123"},
            "new_password1",
            "That is among the passwords that are tried first. Choose something that nobody else would think of.",
        ),
        (
            {"new_password1": "henrietta-x", "new_password2": "henrietta-x"},
            "new_password1",
            "That is too much like your sign-in name, which others know. Choose something else.",
        ),
        (
            {"new_password1": "valkenburgh", "new_password2": "valkenburgh"},
            "new_password1",
            "That is too much like your family name, which others know. Choose something else.",
        ),
        (
            {"new_password1": "larkmere-1x", "new_password2": "larkmere-1x"},
            "new_password1",
            "That is too much like the shop’s name, which everybody knows. Choose something else.",
        ),
        ({"new_password1": ""}, "new_password1", "Type a new password."),
        ({"new_password2": ""}, "new_password2", "Type the new password a second time."),
        (
            {"new_password2": "something else altogether"},
            "new_password2",
            "The two are not the same. Type the new password twice alike.",
        ),
    ],
)
def test_a_password_that_will_not_do_is_refused_at_its_field_with_its_reason(
    client: Client, change: dict[str, str], field: str, complaint: str
) -> None:
    user = UserFactory(
        with_password=True, must_change_password=True, username="henriettax", last_name="Valkenburg",
        shop__name="Larkmere Suspension",
    )  # fmt: skip
    client.force_login(user)
    form = {"old_password": PASSWORD, "new_password1": NEW_PASSWORD, "new_password2": NEW_PASSWORD} | change
    answer = client.post(reverse("change_password"), form)
    assert answer.context["form"].errors == {field: [complaint]}
    assertContains(
        answer, "Nothing like your own name. Nothing like the shop’s name. 10 letters, digits or signs at least"
    )
    user.refresh_from_db()
    assert user.must_change_password
    assert user.check_password(PASSWORD)


def test_passwords_are_kept_as_argon2(client: Client, settings: Settings) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    user = UserFactory(with_password=True)
    assert identify_hasher(User.objects.get(pk=user.pk).password).algorithm == "argon2"
    assert sign_in(client, user.username, PASSWORD).status_code == 302


@pytest.mark.parametrize("username", ["x" * 10_000, "x" * 151, "\0", "a\0b"])
def test_a_name_that_nobody_can_have_is_refused(client: Client, username: str) -> None:
    """A name of any length would go into the table of failed tries, and PostgreSQL takes no more than 255 letters."""
    assert sign_in(client, username, "wrong").status_code in {200, 400}
    assert "_auth_user_id" not in client.session


@pytest.mark.parametrize("claimed", ["unknown", "192.0.2.7:5123", "\u2603", "x" * 300, ""])
def test_a_proxy_that_writes_no_address_counts_as_the_proxy_itself(
    client: Client, settings: Settings, claimed: str
) -> None:
    settings.BEHIND_PROXY = True
    user = UserFactory(with_password=True)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        response = sign_in(client, user.username, "wrong", HTTP_X_FORWARDED_FOR=claimed, REMOTE_ADDR="192.0.2.9")
    assert response.status_code == 429
    assert AccessAttempt.objects.get().ip_address == "192.0.2.9"
