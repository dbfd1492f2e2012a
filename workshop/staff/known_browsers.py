"""In which browsers somebody gave their password before, so that a sign-in from a new one is told to them."""

from __future__ import annotations

import hashlib
import secrets

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from workshop.staff.cookie_names import cookie_named, signed_cookie_of
from workshop.staff.models import User
from workshop.staff.security_log import Did, WhereFrom, note
from workshop.staff.session_models import KnownBrowser

COOKIE = "browser"
_SALT = "a browser that is known"
_KEPT_S = 400 * 24 * 3600
_BROWSER = "known_browser"
MOST_KEPT = 30


@transaction.atomic
def meet(request: HttpRequest, user: User) -> bool:
    """Know this browser from now on. Returns whether it is new though others of theirs were known: they are told."""
    secret = signed_cookie_of(request, COOKIE, salt=_SALT) or secrets.token_urlsafe(32)
    request.browser_secret = secret  # type: ignore[attr-defined]  # the answer's cookie begins anew with each sign-in
    place = WhereFrom.of(request)
    if user.shop is not None:
        type(user.shop).objects.select_for_update(no_key=True).only("pk").get(pk=user.shop.pk)  # before the log's line
    others = KnownBrowser.objects.filter(user=user).exists()
    known, is_first = KnownBrowser.objects.get_or_create(
        user=user,
        digest=hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest(),
        defaults={
            "browser": place.browser, "address": place.address, "first_at": timezone.now(), "to_be_told": others
        },
    )  # fmt: skip
    request.session[_BROWSER] = known.pk
    if not (is_first and others):
        return False
    if user.shop is not None:
        note(shop=user.shop, did=Did.SIGNED_IN_NEW, by=user, place=place)
    User.objects.filter(pk=user.pk).update(has_sign_in_news=True)
    kept = KnownBrowser.objects.filter(user=user).order_by("-pk").values_list("pk", flat=True)[:MOST_KEPT]
    KnownBrowser.objects.filter(user=user).exclude(pk__in=list(kept)).delete()
    return True


def news_for(request: HttpRequest, user: User) -> list[KnownBrowser]:
    """The new browsers that this person has not seen yet, told once, and never in that browser itself.

    Nothing is asked where `has_sign_in_news` is off, which the person's row says.
    """
    if not user.has_sign_in_news:
        return []
    waiting = list(KnownBrowser.objects.filter(user=user, to_be_told=True))
    others = [row for row in waiting if row.pk != request.session.get(_BROWSER)]
    if others:
        KnownBrowser.objects.filter(pk__in=[row.pk for row in others]).update(to_be_told=False)
    if len(others) == len(waiting):
        User.objects.filter(pk=user.pk).update(has_sign_in_news=False)
    return others


def remember(request: HttpRequest, response: HttpResponse) -> None:
    """Let the browser keep its secret, signed, where no script reads it."""
    secret = getattr(request, "browser_secret", "")
    if secret:
        response.set_signed_cookie(
            cookie_named(COOKIE), secret, salt=_SALT, max_age=_KEPT_S, httponly=True, samesite="Lax",
            secure=settings.SESSION_COOKIE_SECURE or request.is_secure(),
        )  # fmt: skip
