"""Receipts as the owner sets them: the shop's numbers and logo."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db import transaction
from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from workshop.counter.saving import edit_page
from workshop.staff.countries import tax_number_name
from workshop.staff.security_log import Did, note_by
from workshop.till.logo import MOST_BYTES, logo_of
from workshop.till.models import ReceiptSettings
from workshop.till.receipt_settings import receipt_settings_of, set_receipt_settings
from workshop.web.confirmed import confirmed
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only
from workshop.web.uploads import file_name


class ReceiptSettingsForm(forms.Form):
    """What is printed on every receipt beside the shop's name and address."""

    tax_number = forms.CharField(label="Tax number", max_length=40, required=False)
    registration_number = forms.CharField(label="Registration number", max_length=60, required=False)
    foot = forms.CharField(
        label="A line at the foot", max_length=200, required=False, help_text="Such as a bank account, or thanks."
    )
    logo = forms.FileField(
        required=False,
        allow_empty_file=True,
        help_text=f"JPEG, PNG or WebP, up to {MOST_BYTES // 1024 // 1024} MB. Papers printed from now on show it.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    without_logo = forms.BooleanField(label="No logo", required=False)

    def __init__(self, *args: Any, country: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tax_number"].label = tax_number_name(country)

    def clean_logo(self) -> str | None:
        sent = self.cleaned_data["logo"]
        return logo_of(sent, name=file_name(sent)) if sent else None

    @classmethod
    def of(cls, stored: ReceiptSettings, country: str) -> ReceiptSettingsForm:
        names = ("tax_number", "registration_number", "foot")
        return cls(initial={name: getattr(stored, name) for name in names}, country=country)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
def receipts(request: ShopRequest) -> HttpResponse:
    shop = request.shop
    stored = receipt_settings_of(shop)
    posted = request.method == "POST"
    form = (
        ReceiptSettingsForm(request.POST, request.FILES, country=shop.country)
        if posted
        else ReceiptSettingsForm.of(stored, shop.country)
    )

    def save(seen: int) -> Any:
        with transaction.atomic():
            note_by(request, Did.RECEIPTS_CHANGED)
            return set_receipt_settings(shop=shop, seen_version=seen, **form.cleaned_data)

    return edit_page(
        request,
        template="office/receipts.html",
        form=form,
        version=stored.version,
        save=save,
        form_of=lambda _: ReceiptSettingsForm.of(receipt_settings_of(shop), shop.country),
        done_url=reverse("office:receipts"),
        said="Saved. Receipts that are issued stay as they are.",
        context={"stored": stored},
    )
