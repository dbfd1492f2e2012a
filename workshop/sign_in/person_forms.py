"""Forms of the short code, and of the password that the office asks for after one."""

from __future__ import annotations

from typing import Any

from django import forms

from workshop.staff.models import User
from workshop.staff.quick_codes import LONGEST, why_too_simple

_TYPED = {"inputmode": "numeric", "autocomplete": "off", "maxlength": str(LONGEST)}


class PersonForm(forms.Form):
    """Who one is, out of those with a code on this device, and the code."""

    person = forms.ChoiceField(
        label="Who are you?", widget=forms.RadioSelect, error_messages={"required": "Choose who you are."}
    )
    code = forms.CharField(label="Your short code", max_length=40, widget=forms.PasswordInput(attrs=_TYPED))

    def __init__(self, *args: Any, people: list[User], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].choices = [(str(one.pk), str(one)) for one in people]  # type: ignore[attr-defined]


class PasswordForm(forms.Form):
    """The password of who is signed in; whether it is right, and how often it may be wrong, the sign-in says."""

    password = forms.CharField(
        label="Your password",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True}),
    )


class OwnCodeForm(forms.Form):
    """A short code of one's own, typed twice."""

    code = forms.CharField(label="Short code", max_length=40, widget=forms.PasswordInput(attrs=_TYPED))
    again = forms.CharField(label="The same again", max_length=40, widget=forms.PasswordInput(attrs=_TYPED))

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"])
        if why := why_too_simple(code):
            raise forms.ValidationError(why)
        return code

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data
        if "code" in typed and "again" in typed and typed["code"] != typed["again"]:
            self.add_error("again", "The two are not the same. Type both anew.")
        return typed
