"""A fast change of person at a shared device, the password that the office asks for then, and one's own short code."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import authenticate
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from workshop.sign_in.person_forms import OwnCodeForm, PasswordForm, PersonForm
from workshop.sign_in.second_factor_views import ask_for_code
from workshop.staff.devices import device_of, give_cookie, secret_of
from workshop.staff.models import User
from workshop.staff.quick_codes import QuickCodeRefused, forget_code, people_with_codes, person_by_code, set_code
from workshop.staff.second_factor import second_factor_of
from workshop.staff.sessions import enter, enter_by_code
from workshop.staff.stopped_shops import refuse_stopped
from workshop.web.middleware import before_password_change, before_second_factor
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_password

REFUSED = 422


@login_not_required
@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def change_person(request: HttpRequest) -> HttpResponse:
    """Who works at this device now, by a short code. Whoever was signed in is not any more."""
    device = device_of(request)
    if device is None:
        was_ended = bool(secret_of(request))
        return render(
            request, "staff/no_device.html", {"was_ended": was_ended}, status=REFUSED if request.POST else 200
        )
    refuse_stopped(device.shop)
    form = PersonForm(request.POST if request.method == "POST" else None, people=people_with_codes(device.shop))
    if form.is_bound and _is_sent_whole(form):
        try:
            user = person_by_code(device=device, user_pk=int(form.data["person"]), typed=form.cleaned_data["code"])
        except QuickCodeRefused as refused:
            form.add_error("code", str(refused))
        else:
            enter_by_code(request, user, device)
            response = redirect("home")
            give_cookie(response, request, secret_of(request))
            return response
    context = {"form": form, "device": device, "device_shop": device.shop}
    return render(request, "staff/change_person.html", context, status=REFUSED if form.errors else 200)


def _is_sent_whole(form: PersonForm) -> bool:
    """Whether somebody was chosen and a code typed. Who left since the page was opened is told so, in words."""
    valid = form.is_valid()
    chosen = str(form.data.get("person", ""))
    if not valid and list(form.errors) == ["person"] and chosen.isascii() and chosen.isdigit() and len(chosen) < 18:
        del form.errors["person"]
        return True
    return valid


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
@before_password_change
@before_second_factor
@anyone_in_the_shop
def give_password(request: ShopRequest) -> HttpResponse:
    """After a short code, before the office: the password, and the second factor where there is one."""
    wanted = request.POST.get("next", "") or request.GET.get("next", "")
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    next_page = wanted if ours and wanted.startswith("/") else reverse("home")  # "12" would be looked up as a name
    if not request.user.by_code:
        return redirect(next_page)
    form = PasswordForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        # As at the sign-in, so that wrong ones count there.
        user = authenticate(request, username=request.user.username, password=form.cleaned_data["password"])
        if isinstance(user, User) and user.pk == request.user.pk:
            if second_factor_of(user) is not None:
                return ask_for_code(request, user, next_page)
            enter(request, user)
            return redirect(next_page)
        form.add_error("password", "That is not your password.")
    context = {"form": form, "next": next_page}
    return render(request, "staff/give_password.html", context, status=REFUSED if form.errors else 200)


@never_cache
@sensitive_post_parameters("code", "again")
@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
@with_password
def own_code(request: ShopRequest) -> HttpResponse:
    """One's own short code, set or changed by oneself alone."""
    form = OwnCodeForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        set_code(user=request.user, code=form.cleaned_data["code"])
        messages.success(request, "Your short code is set. It works on devices that an owner let in.")
        return redirect("second_factor")
    return render(request, "staff/own_code.html", {"form": form}, status=REFUSED if form.errors else 200)


@require_POST
@anyone_in_the_shop
@with_password
def own_code_off(request: ShopRequest) -> HttpResponse:
    """No short code any more; sent twice, nothing more happens."""
    if forget_code(user=request.user):
        messages.success(request, "You have no short code any more.")
    return redirect("second_factor")
