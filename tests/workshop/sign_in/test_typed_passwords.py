"""A password is taken as it is typed: any signs, none changed or cut off, masked, and pasted if one likes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from tests.factories import PASSWORD, UserFactory
from workshop.staff import second_factor
from workshop.staff.models import User
from workshop.staff.random_words import make_password
from workshop.staff.second_factor_models import RecoveryCode, SecondFactor

pytestmark = pytest.mark.django_db
ONE_KIND_OF_SIGN = "heron mallow brisk tallow"
AS_TYPED = [
    ONE_KIND_OF_SIGN,
    "483 920 571 664 207",
    " Blanks Before And Behind ",
    "Ærøskøbing—ёлка 漢字 🚲🚲",
    "tab\tand 'quotes' \"both\" <b> & % \\",
    "x y z " * 20 + "the end",
]


def signs_in(client: Client, user: User, password: str) -> bool:
    client.logout()
    client.post(reverse("sign_in"), {"username": user.username, "password": password})
    return "_auth_user_id" in client.session


@pytest.mark.parametrize("password", AS_TYPED)
def test_any_signs_are_taken_and_none_is_changed(client: Client, password: str) -> None:
    user = UserFactory(with_password=True)
    client.force_login(user)
    typed = {"old_password": PASSWORD, "new_password1": password, "new_password2": password}
    answer = client.post(reverse("change_password"), typed)
    assert answer.status_code == 302, answer.context["form"].errors
    user.refresh_from_db()
    assert user.check_password(password)
    assert signs_in(client, user, password)
    others = {password.strip(), password.swapcase(), password[:64], password + " "} - {password}
    for other in sorted(others):
        assert not user.check_password(other)
    assert not signs_in(client, user, sorted(others)[0])


@pytest.mark.parametrize("name", ["sign_in", "change_password", "confirm"])
def test_it_is_masked_and_may_be_pasted(client: Client, name: str) -> None:
    user = UserFactory(owner=True, with_password=True)
    if name != "sign_in":
        client.force_login(user)
    page = client.get(reverse(name), follow=True).content.decode()
    fields = re.findall(r"<input[^>]*password[^>]*>", page)
    assert fields
    for field in fields:
        assert 'type="password"' in field
        assert "maxlength" not in field or int(re.findall(r'maxlength="(\d+)"', field)[0]) >= 128
        assert 'autocomplete="off"' not in field
    scripts = [path.read_text(encoding="utf-8") for path in Path(settings.BASE_DIR, "static/js").glob("*.js")]
    assert scripts
    assert not [script for script in scripts if "paste" in script]


def test_the_session_is_another_after_signing_in(client: Client) -> None:
    user = UserFactory(with_password=True)
    client.get(reverse("sign_in"))
    client.session.save()
    before = client.session.session_key
    assert signs_in(client, user, PASSWORD)
    assert client.session.session_key != before
    again = client.session.session_key
    assert signs_in(client, user, PASSWORD)
    assert client.session.session_key != again


def test_recovery_codes_are_kept_as_digests_and_made_by_safe_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    user = UserFactory(with_password=True)
    monkeypatch.setattr(second_factor, "matching_step", lambda *_: 1)
    codes = second_factor.set_up_second_factor(user=user, secret="A" * 32, typed="000000")
    kept = " ".join(RecoveryCode.objects.filter(factor__user=user).values_list("digest", flat=True))
    assert len(codes) == len(set(codes)) == SecondFactor.objects.get().recovery_codes.count()
    assert not [code for code in codes if code in kept or code.replace("-", "") in kept]
    source = Path(settings.BASE_DIR, "workshop/staff/random_words.py").read_text(encoding="utf-8")
    assert "import secrets" in source
    assert "import random" not in source
    assert len({make_password() for _ in range(200)}) == 200
