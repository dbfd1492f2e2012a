"""Over TLS every cookie has the prefix that browsers hold to: Secure, for this host alone, for all of its pages."""

from __future__ import annotations

from http.cookies import Morsel

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import StepTimer
from tests.factories import PASSWORD, RunFactory, ShopFactory, StepFactory, UserFactory
from tests.workshop.web.test_security_headers import settings_of
from workshop.bench.ringing import ring_here
from workshop.staff import devices
from workshop.staff.cookie_names import HOST_ONLY, signed_cookie_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def _tls(settings: object) -> None:
    named = settings_of()
    for name in ("SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME"):
        setattr(settings, name, named[name])
    for name in ("SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE"):
        setattr(settings, name, True)


@pytest.mark.usefixtures("_tls")
def test_over_tls_every_cookie_has_the_prefix_and_what_it_asks_for(rf: RequestFactory) -> None:
    user, client = UserFactory(with_password=True), Client()
    client.get(reverse("sign_in"), secure=True)
    client.post(reverse("sign_in"), {"username": user.username, "password": PASSWORD}, secure=True)
    request, response = rf.get("/"), HttpResponse()
    request.user = user
    devices.give_cookie(response, request, "a secret")
    run = RunFactory()
    step = StepFactory(checklist=run.checklist)
    timer = StepTimer.objects.create(run=run, step=step, seconds=600, started_at=timezone.now(), by=user)
    ring_here(request, response, [timer])
    found: dict[str, Morsel[str]] = {**client.cookies, **response.cookies}
    assert {name.removeprefix(HOST_ONLY) for name in found} == {"sessionid", "csrftoken", "browser", "device", "timers"}
    for name, cookie in found.items():
        assert (name.startswith(HOST_ONLY), cookie["secure"], cookie["path"], cookie["domain"]) == (True, True, "/", "")


def test_on_plain_http_no_cookie_has_it() -> None:
    client = Client()
    client.get(reverse("sign_in"))
    assert set(client.cookies) == {"csrftoken"}
    assert settings_of(HTTPS="0")["CSRF_COOKIE_NAME"] == "None"  # Django's own


@pytest.mark.usefixtures("_tls")
def test_a_device_let_in_before_there_was_a_prefix_stays_let_in(rf: RequestFactory) -> None:
    device, secret = devices.let_device_in(shop=ShopFactory(), name="Bench tablet", by=UserFactory())
    before = HttpResponse()
    before.set_signed_cookie(devices.COOKIE, secret, salt=devices._SALT)
    request: HttpRequest = rf.get("/")
    request.COOKIES[devices.COOKIE] = before.cookies[devices.COOKIE].value
    assert devices.device_of(request) == device
    request.COOKIES[devices.COOKIE] += "x"
    assert (devices.device_of(request), signed_cookie_of(request, "another", salt="")) == (None, "")
