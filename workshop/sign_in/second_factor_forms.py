"""Forms of the second factor."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.staff.typed_password import why_not_password
from workshop.web.requests import ShopRequest

_TYPED_CODE = {"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}


class CodeForm(forms.Form):
    """The code of the app, or a recovery code."""

    code = forms.CharField(label="Code", max_length=40, widget=forms.TextInput(attrs=_TYPED_CODE))


class CodeAndPasswordForm(CodeForm):
    """The code, and the password of whoever is signed in: an unlocked screen alone changes nothing."""

    password = forms.CharField(
        label="Your password",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, request: ShopRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request

    def clean_password(self) -> str:
        password = str(self.cleaned_data["password"])
        if why := why_not_password(self.request, self.request.user, password):
            raise forms.ValidationError(why)
        return password
