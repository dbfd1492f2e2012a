"""Letting a shared device in, knowing it again by its cookie, and ending it."""

from __future__ import annotations

import hashlib
import secrets

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from workshop.staff.cookie_names import cookie_named, signed_cookie_of
from workshop.staff.device_models import Device
from workshop.staff.models import Shop, User

COOKIE = "device"
_SALT = "a device that was let in"
_KEPT_S = 400 * 24 * 3600
"""The longest that browsers keep a cookie; each change of person begins it anew."""


@transaction.atomic
def let_device_in(*, shop: Shop, name: str, by: User) -> tuple[Device, str]:
    """Let a device in by a name; returns it and the secret for its cookie.

    Raises:
        ValidationError: no name, or one that another device has.
    """
    secret = secrets.token_urlsafe(32)
    device = Device(shop=shop, name=name.strip(), digest=_digest(secret), let_in_by=by, let_in_at=timezone.now())
    device.full_clean()
    device.save()
    return device, secret


def end(*, device: Device, by: User) -> bool:
    """Let a device in no longer: whoever is signed in on it is not from now on. False where it was ended before."""
    ending = Device.objects.filter(pk=device.pk, ended_at__isnull=True)
    return bool(ending.update(ended_at=timezone.now(), ended_by=by))


def give_cookie(response: HttpResponse, request: HttpRequest, secret: str) -> None:
    """Let the browser keep the secret, signed, where no script reads it."""
    response.set_signed_cookie(
        cookie_named(COOKIE), secret, salt=_SALT, max_age=_KEPT_S, httponly=True, samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE or request.is_secure(),
    )  # fmt: skip


def secret_of(request: HttpRequest) -> str:
    """What the cookie holds; empty where there is none, or it was not signed by this shop's key."""
    return signed_cookie_of(request, COOKIE, salt=_SALT)


def device_of(request: HttpRequest) -> Device | None:
    """The device that was let in and not ended. No query without its cookie."""
    secret = secret_of(request)
    if not secret:
        return None
    return Device.objects.select_related("shop").filter(digest=_digest(secret), ended_at__isnull=True).first()


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
