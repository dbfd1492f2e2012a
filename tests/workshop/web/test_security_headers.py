"""The headers every page carries, and the settings of a shop behind TLS."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings as shop_settings
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from tests.factories import PASSWORD, UserFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("signed_in", [False, True])
def test_the_policy_allows_nothing_inline_and_nobody_else(client: Client, signed_in: bool) -> None:
    if signed_in:
        client.force_login(UserFactory())
    policy = client.get(reverse("change_password" if signed_in else "sign_in")).headers["Content-Security-Policy"]
    directives = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert directives["default-src"] == "'none'"
    assert directives["script-src"] == directives["style-src"] == directives["connect-src"] == "'self'"
    assert directives["base-uri"] == directives["frame-ancestors"] == "'none'"
    for unsafe in ("unsafe-inline", "unsafe-eval", "http:", "https:", "*", "data:"):
        assert unsafe not in policy


def test_error_pages_carry_the_policy_too(client: Client) -> None:
    assert "Content-Security-Policy" in client.get("/no/such/page/").headers


def test_other_headers(client: Client) -> None:
    headers = client.get(reverse("sign_in")).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"


def settings_of(**environment: str) -> dict[str, str]:
    """Settings as a server of its own reads them from this environment."""
    names: tuple[str, ...] = (
        "SECURE_SSL_REDIRECT",
        "SESSION_COOKIE_SECURE",
        "CSRF_COOKIE_SECURE",
        "SESSION_COOKIE_NAME",
        "CSRF_COOKIE_NAME",
        "SECURE_HSTS_SECONDS",
        "SECURE_HSTS_PRELOAD",
        "SECURE_HSTS_INCLUDE_SUBDOMAINS",
        "DEBUG",
    )
    names += ("PASSWORD_HASHERS",)
    code = f"from workshop import settings as s\nfor name in {names}: print(name, getattr(s, name, None))"
    kept = {name: os.environ[name] for name in ("PATH", "DATA_DIR") if name in os.environ}
    output = subprocess.run(
        [sys.executable, "-c", code],
        env=kept | environment,
        cwd=Path(shop_settings.BASE_DIR),
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    return dict(line.split(" ", 1) for line in output.splitlines())


def test_by_default_everything_goes_over_tls() -> None:
    found = settings_of()
    assert found["SECURE_SSL_REDIRECT"] == found["SESSION_COOKIE_SECURE"] == found["CSRF_COOKIE_SECURE"] == "True"
    assert int(found["SECURE_HSTS_SECONDS"]) >= 365 * 24 * 3600
    assert found["DEBUG"] == "False"


def test_browsers_list_the_shop_for_good_only_where_that_is_asked_for() -> None:
    """Off a browser's preload list comes nobody within months, with every name below the shop's."""
    assert settings_of()["SECURE_HSTS_PRELOAD"] == "False"
    assert settings_of(HSTS_PRELOAD="1")["SECURE_HSTS_PRELOAD"] == "True"
    assert settings_of(HSTS_PRELOAD="1", HTTPS="0")["SECURE_HSTS_PRELOAD"] == "False"


def test_a_shop_hashes_passwords_with_argon2_alone() -> None:
    assert settings_of()["PASSWORD_HASHERS"] == "['django.contrib.auth.hashers.Argon2PasswordHasher']"  # noqa: S105  no password


def test_plain_http_has_to_be_asked_for() -> None:
    found = settings_of(HTTPS="0")
    assert found["SECURE_SSL_REDIRECT"] == found["SESSION_COOKIE_SECURE"] == "False"
    assert found["SECURE_HSTS_SECONDS"] == "0"


def test_behind_tls_cookies_and_answers_say_so(settings: Settings) -> None:
    settings.SECURE_SSL_REDIRECT = settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    settings.SECURE_HSTS_SECONDS, settings.SECURE_HSTS_INCLUDE_SUBDOMAINS = 365 * 24 * 3600, True
    client, user = Client(), UserFactory(with_password=True)
    plain = client.get(reverse("sign_in"))
    assert (plain.status_code, plain["Location"].split(":")[0]) == (301, "https")
    page = client.get(reverse("sign_in"), secure=True)
    assert page.headers["Strict-Transport-Security"].startswith("max-age=31536000; includeSubDomains")
    assert page.cookies["csrftoken"]["secure"]
    before = client.session.session_key
    entered = client.post(reverse("sign_in"), {"username": user.username, "password": PASSWORD}, secure=True)
    session = entered.cookies["sessionid"]
    assert (session["secure"], session["httponly"], session["samesite"]) == (True, True, "Lax")
    assert session.value != before
