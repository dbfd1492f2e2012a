"""Signing in and choosing a password, in the shop's words."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.contrib.auth.password_validation import password_validators_help_texts
from django.core.validators import MaxLengthValidator
from django.http import HttpRequest

from workshop.staff.typed_password import why_not_password


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "That name and password do not go together. Check capitals, and try again.",
        "inactive": "That name and password do not go together. Check capitals, and try again.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Sign-in name"
        # Django gives the length to the browser only; the table of failed tries takes no longer one.
        longest = self.fields["username"].max_length  # type: ignore[attr-defined]
        self.fields["username"].validators.append(MaxLengthValidator(longest))


class ChoosePasswordForm(PasswordChangeForm):
    """The password there is and a new one, twice. What is wrong with the new one stands where it was typed first."""

    error_messages = {"password_mismatch": "The two are not the same. Type the new password twice alike."}

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        old, new, again = (self.fields[name] for name in ("old_password", "new_password1", "new_password2"))
        again.label = "New password, once more"
        new.help_text, again.help_text = " ".join(password_validators_help_texts()), ""
        old.error_messages["required"] = "Type the password that you came in with."
        new.error_messages["required"] = "Type a new password."
        again.error_messages["required"] = "Type the new password a second time."

    def clean_old_password(self) -> str:
        typed = str(self.cleaned_data["old_password"])
        if why := why_not_password(self.request, self.user, typed):
            raise forms.ValidationError(why, code="password_incorrect")
        return typed

    def validate_password_for_user(self, user: Any, password_field_name: str = "") -> None:
        super().validate_password_for_user(user, "new_password1")
