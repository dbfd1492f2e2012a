"""The sign-in form, in the shop's words."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.forms import AuthenticationForm


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "That name and password do not go together. Check capitals, and try again.",
        "inactive": "That name and password do not go together. Check capitals, and try again.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Sign-in name"
