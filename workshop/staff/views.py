"""Signing in, signing out, choosing a password, and the first page of each role."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.contrib.auth.forms import PasswordChangeForm
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse_lazy
from django.views.decorators.http import require_GET

from workshop.staff.models import User
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

_FIRST_PAGE = {
    User.Role.COUNTER: "counter:today",
    User.Role.MECHANIC: "bench:board",
    User.Role.OWNER: "office:overview",
}


@require_GET
@anyone_in_the_shop
def home(request: ShopRequest) -> HttpResponse:
    """Each role starts where its day starts."""
    return redirect(_FIRST_PAGE[User.Role(request.user.role)])


class SignIn(auth_views.LoginView):
    template_name = "staff/sign_in.html"
    redirect_authenticated_user = True


def _before_password_change(view: object) -> object:
    view.allowed_before_password_change = True  # type: ignore[attr-defined]
    return view


class SignOut(auth_views.LogoutView):
    @classmethod
    def as_view(cls, **initkwargs: object):  # type: ignore[no-untyped-def]
        return _before_password_change(super().as_view(**initkwargs))


class ChangePassword(auth_views.PasswordChangeView):
    template_name = "staff/change_password.html"
    success_url = reverse_lazy("home")

    @classmethod
    def as_view(cls, **initkwargs: object):  # type: ignore[no-untyped-def]
        return _before_password_change(super().as_view(**initkwargs))

    def form_valid(self, form: PasswordChangeForm[User]) -> HttpResponse:
        response = super().form_valid(form)
        form.user.must_change_password = False
        form.user.save(update_fields=["must_change_password"])
        messages.success(self.request, "Your new password is set.")
        return response
