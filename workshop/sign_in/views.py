"""Signing in, signing out, choosing a password, and the first page of each role."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse_lazy
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_GET

from workshop.sign_in.forms import SignInForm
from workshop.sign_in.second_factor_views import ask_for_code
from workshop.staff.models import User
from workshop.staff.roles import ROLES
from workshop.staff.second_factor import second_factor_of
from workshop.web.middleware import before_password_change
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop


@require_GET
@anyone_in_the_shop
def home(request: ShopRequest) -> HttpResponse:
    """Each role starts where its day starts."""
    return redirect(ROLES[request.user.role].first_page)


class SignIn(auth_views.LoginView):
    template_name = "staff/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    http_method_names = ["get", "head", "post", "options"]

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Signed in; or asked for the code first, where a second factor is set up."""
        user = form.get_user()
        if isinstance(user, User) and second_factor_of(user) is not None:
            return ask_for_code(self.request, user, self.get_redirect_url())
        return super().form_valid(form)


@method_decorator(login_not_required, name="dispatch")
class SignOut(auth_views.LogoutView):
    """Signing out twice, or after the session ended, is no error."""


class ChangePassword(auth_views.PasswordChangeView):
    template_name = "staff/change_password.html"
    success_url = reverse_lazy("home")
    http_method_names = ["get", "head", "post", "options"]

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        form.user.must_change_password = False  # saved together with the password
        response = super().form_valid(form)
        messages.success(self.request, "Your new password is set.")
        return response


sign_in = SignIn.as_view()
sign_out = before_password_change(SignOut.as_view())
change_password = before_password_change(ChangePassword.as_view())
