"""The second step of a sign-in, and a person's own page for it."""

from __future__ import annotations

import segno
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from workshop.sign_in.second_factor_forms import CodeAndPasswordForm, CodeForm
from workshop.sign_in.telling import tell_by_mail
from workshop.staff.backend import StaffBackend
from workshop.staff.models import User
from workshop.staff.one_time_codes import address_of, new_secret
from workshop.staff.open_sessions import end_sessions, sessions_of
from workshop.staff.quick_codes import has_code
from workshop.staff.second_factor import (
    CodeRefused,
    must_set_up,
    second_factor_of,
    set_up_second_factor,
    take_off,
    use_code,
)
from workshop.staff.security_log import Did, note_by
from workshop.staff.sessions import enter
from workshop.staff.stopped_shops import refuse_stopped
from workshop.web.middleware import before_second_factor
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_password

REFUSED = 422
WAITS_S = 300
"""How long a right password waits for its code."""
_WAITING = "waits_for_second_factor"
_NEW_SECRET = "new_second_factor"  # noqa: S105  the name of a place in the session


def ask_for_code(request: HttpRequest, user: User, next_page: str) -> HttpResponse:
    """After the right password: nobody is signed in until the code is right too."""
    request.session.cycle_key()
    request.session[_WAITING] = {
        "user": user.pk, "password": user.get_session_auth_hash(), "at": timezone.now().timestamp(), "next": next_page,
    }  # fmt: skip
    return redirect("second_step")


@login_not_required
@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def second_step(request: HttpRequest) -> HttpResponse:
    user, next_page = _who_waits(request)
    if user is None:
        return redirect("sign_in")
    refuse_stopped(user.shop)
    form = CodeForm(request.POST) if request.method == "POST" else CodeForm()
    if form.is_bound and form.is_valid():
        try:
            use_code(user=user, typed=form.cleaned_data["code"])
        except CodeRefused as refused:
            form.add_error("code", str(refused))
        else:
            del request.session[_WAITING]
            if enter(request, user):
                tell_by_mail(request, user)
            ours = url_has_allowed_host_and_scheme(next_page, {request.get_host()}, require_https=request.is_secure())
            return redirect(next_page if ours else reverse("home"))
    return render(request, "staff/second_step.html", {"form": form}, status=REFUSED if form.errors else 200)


def _who_waits(request: HttpRequest) -> tuple[User | None, str]:
    """Who gave the right password a moment ago, if it is still their password and they may still sign in."""
    waiting = request.session.get(_WAITING) or {}
    if timezone.now().timestamp() - waiting.get("at", 0) > WAITS_S:
        return None, ""
    user = StaffBackend().get_user(waiting["user"])
    if user is None or user.get_session_auth_hash() != waiting["password"]:
        return None, ""
    return user, str(waiting["next"])


@never_cache
@sensitive_post_parameters("code", "password")
@require_http_methods(["GET", "HEAD", "POST"])
@before_second_factor
@anyone_in_the_shop
@with_password
def second_factor(request: ShopRequest) -> HttpResponse:
    """One's own second factor: set it up with a first code and the password, or see that it is on."""
    if second_factor_of(request.user) is not None:
        return _show_on(request, CodeAndPasswordForm(request=request))
    form = CodeAndPasswordForm(request.POST or None, request=request)
    secret = request.session.get(_NEW_SECRET) or new_secret()
    request.session[_NEW_SECRET] = secret
    if form.is_bound and form.is_valid():
        try:
            codes = _turn_on(request, secret, form.cleaned_data["code"])
        except CodeRefused as refused:
            form.add_error("code", str(refused))
        else:
            del request.session[_NEW_SECRET]
            return render(request, "staff/recovery_codes.html", {"codes": codes})
    address = address_of(secret, account=request.user.username, issuer=request.shop.name)
    context = {
        "form": form,
        "has_code": has_code(request.user),
        "sessions": sessions_of(request.user, this=request.session.session_key),
        "is_asked": must_set_up(request.user),
        "secret_in_groups": " ".join(secret[at : at + 4] for at in range(0, len(secret), 4)),
        "qr": segno.make(address, error="m", micro=False).svg_inline(scale=4, border=2, omitsize=True),
    }
    return render(request, "staff/second_factor.html", context, status=REFUSED if form.errors else 200)


@transaction.atomic
def _turn_on(request: ShopRequest, secret: str, typed: str) -> list[str]:
    """Set it up, and end every session that began without it. Raises CodeRefused."""
    note_by(request, Did.FACTOR_ON)
    codes = set_up_second_factor(user=request.user, secret=secret, typed=typed)
    end_sessions(request.user, but=request.session.session_key)
    return codes


@sensitive_post_parameters("code", "password")
@require_POST
@anyone_in_the_shop
@with_password
def second_factor_off(request: ShopRequest) -> HttpResponse:
    """Take one's own off, with the password and a code; a recovery code will do for a lost phone."""
    form = CodeAndPasswordForm(request.POST, request=request)
    if not _may_take_off(request):
        form.add_error(None, "The shop asks its owners for a second factor. Change that in the shop’s settings first.")
    elif form.is_valid():
        try:
            use_code(user=request.user, typed=form.cleaned_data["code"])
        except CodeRefused as refused:
            form.add_error("code", str(refused))
        else:
            with transaction.atomic():
                note_by(request, Did.FACTOR_OFF)
                take_off(user=request.user)
                end_sessions(request.user, but=request.session.session_key)
            messages.success(request, "Your second factor is off. Signing in takes the password alone again.")
            return redirect("second_factor")
    return _show_on(request, form, status=REFUSED)


def _show_on(request: ShopRequest, form: CodeAndPasswordForm, status: int = 200) -> HttpResponse:
    context = {
        "is_on": True,
        "form": form,
        "has_code": has_code(request.user),
        "sessions": sessions_of(request.user, this=request.session.session_key),
        "may_take_off": _may_take_off(request),
    }
    return render(request, "staff/second_factor.html", context, status=status)


def _may_take_off(request: ShopRequest) -> bool:
    return not (request.user.is_owner and request.shop.owners_need_second_factor)
