"""Forms of the Office's mail page."""

from __future__ import annotations

import ipaddress
import re
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from workshop.reminders.mail_models import PORTS, MailSettings
from workshop.reminders.mail_setting import MailWanted, sender_of_server
from workshop.staff.models import Shop, User
from workshop.web.fields import WholeNumberField

_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?", re.ASCII)
_PLAIN = {"autocomplete": "off", "spellcheck": "false", "autocapitalize": "none"}


class TestLetterForm(forms.Form):
    """Where a test letter goes."""

    __test__ = False  # no test of pytest's, whatever its name begins with

    letter_to = forms.EmailField(
        label="Send a test letter to", help_text="A mailbox you can open now. The letter has a code; enter it here."
    )


class MailForm(TestLetterForm):
    """A mail server, as its provider names it."""

    host = forms.CharField(
        label="Mail server", max_length=253, help_text="As your provider names it for outgoing mail (SMTP).",
        widget=forms.TextInput(attrs=_PLAIN),
    )  # fmt: skip
    port = WholeNumberField(label="Port", validators=[MinValueValidator(1, PORTS), MaxValueValidator(65535, PORTS)])
    security = forms.ChoiceField(label="Encryption", choices=MailSettings.Security.choices)
    username = forms.CharField(label="Signs in as", max_length=254, required=False, widget=forms.TextInput(_PLAIN))
    password = forms.CharField(
        label="Password", max_length=500, required=False, strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
    )  # fmt: skip
    sender = forms.EmailField(label="Letters come from", required=False)

    field_order = ["host", "port", "security", "username", "password", "sender", "letter_to"]

    def __init__(self, *args: Any, shop: Shop, kept: MailSettings | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if sender_of_server():
            del self.fields["sender"]
        else:
            self.fields["sender"].help_text = f"If blank: {shop.email}." if shop.email else ""
            self.fields["sender"].required = not shop.email
        if kept is not None and kept.password_sealed:
            self.fields["password"].help_text = f"If blank: the one kept for {kept.username} at {kept.host}."

    @classmethod
    def of(cls, shop: Shop, by: User, kept: MailSettings | None) -> MailForm:
        said: dict[str, Any] = {"port": 587, "letter_to": by.email or shop.email}
        if kept is not None:
            said |= {name: getattr(kept, name) for name in ("host", "port", "security", "username", "sender")}
        return cls(initial=said, shop=shop, kept=kept)

    def clean_host(self) -> str:
        host = str(self.cleaned_data["host"]).strip().rstrip(".").lower()
        if not _HOST.fullmatch(host) and not _is_number(host):
            raise forms.ValidationError("Enter the name of a server alone, for example mail.example.org.")
        return host

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        here = _is_this_machine(str(said.get("host", "")))
        if said.get("security") == MailSettings.Security.NONE and "host" in said and not here:
            words = (
                "Without encryption anybody on the way reads letters and password. Only a server on this machine may."
            )
            self.add_error("security", words)
        return said

    @property
    def wanted(self) -> MailWanted:
        said = self.cleaned_data
        return MailWanted(
            said["host"], said["port"], said["security"], said["username"], said["password"], said.get("sender", "")
        )


class MailCodeForm(forms.Form):
    """The code of the test letter."""

    code = forms.CharField(
        label="Code of the letter", max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "one-time-code"}),
    )  # fmt: skip


def _is_number(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _is_this_machine(host: str) -> bool:
    return ipaddress.ip_address(host).is_loopback if _is_number(host) else host == "localhost"
