"""The sign-in form, in the shop's words."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.core.validators import MaxLengthValidator


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
