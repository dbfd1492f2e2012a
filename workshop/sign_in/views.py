"""Signing in, signing out, choosing a password, and the first page of each role."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse_lazy
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_GET

from workshop.office.set_up import guide_comes_first, note_first_device
from workshop.sign_in.first_page import first_page_of
from workshop.sign_in.forms import ChoosePasswordForm, SignInForm
from workshop.sign_in.second_factor_views import ask_for_code
from workshop.sign_in.telling import tell_by_mail
from workshop.staff.address import is_another_device
from workshop.staff.devices import device_of, secret_of
from workshop.staff.models import User
from workshop.staff.open_sessions import end_sessions
from workshop.staff.roles import Right
from workshop.staff.second_factor import second_factor_of
from workshop.staff.security_log import Did, note_by
from workshop.staff.sessions import enter
from workshop.staff.stopped_shops import refuse_stopped
from workshop.web.middleware import before_password_change
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, ask_for_password


@require_GET
@anyone_in_the_shop
def home(request: ShopRequest) -> HttpResponse:
    """Each role starts where its day starts; with several roles, where there is work; an owner with the set-up guide,
    until it is done or left."""
    if request.is_secure() and is_another_device(request):
        note_first_device(request.shop)
    if request.user.may(Right.RUN_THE_SHOP) and guide_comes_first(request.shop):
        return redirect("office:set_up")
    return redirect(first_page_of(request.user))


class SignIn(auth_views.LoginView):
    template_name = "staff/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    http_method_names = ["get", "head", "post", "options"]

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Signed in; or asked for the code first, where a second factor is set up."""
        user = form.get_user()
        if isinstance(user, User):
            refuse_stopped(user.shop)
            if second_factor_of(user) is not None:
                return ask_for_code(self.request, user, self.get_redirect_url())
            if enter(self.request, user):
                tell_by_mail(self.request, user)
        return redirect(self.get_success_url())

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Whether people change by a short code here, and whether they did until an owner ended it."""
        device = device_of(self.request)
        was_ended = device is None and bool(secret_of(self.request))
        return super().get_context_data(**kwargs, device=device, device_was_ended=was_ended)


@method_decorator(login_not_required, name="dispatch")
class SignOut(auth_views.LogoutView):
    """Signing out twice, or after the session ended, is no error.

    The browser forgets the pages and photos it kept. It keeps its storage, where answers may wait to be sent, and its
    cookies, by one of which the device was let in.
    """

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().dispatch(request, *args, **kwargs)
        response["Clear-Site-Data"] = '"cache"'
        return response


class ChangePassword(auth_views.PasswordChangeView):
    """Choosing another password; wrong old ones count as at the sign-in. All other sessions end."""

    template_name = "staff/change_password.html"
    form_class = ChoosePasswordForm
    success_url = reverse_lazy("home")
    http_method_names = ["get", "head", "post", "options"]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """After a short code the old password is asked for where wrong ones are counted, and then here."""
        if isinstance(request.user, User) and request.user.by_code:
            return ask_for_password(request)
        return super().dispatch(request, *args, **kwargs)

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"request": self.request}

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        form.user.must_change_password = False  # saved together with the password
        with transaction.atomic():
            note_by(self.request, Did.PASSWORD_CHANGED)
            response = super().form_valid(form)
            end_sessions(form.user, but=self.request.session.session_key)
        messages.success(self.request, "Your new password is set.")
        return response


sign_in = SignIn.as_view()
sign_out = before_password_change(SignOut.as_view())
change_password = before_password_change(ChangePassword.as_view())
