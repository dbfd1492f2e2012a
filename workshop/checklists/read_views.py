"""Reading a checklist through on one page, signing it, and taking a signature back."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop.checklists.reading import lists_to_read, reading_page
from workshop.signed.models import ChecklistSignature
from workshop.signed.signing import LONGEST_REASON, sign, take_signature_back
from workshop.staff.roles import Right
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_right
from workshop.web.versions import StaleVersion

CONFLICT, REFUSED = 409, 422


class SignForm(forms.Form):
    """The version and wording that were read, and the word of who read them."""

    number = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    wording = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    read = forms.BooleanField(
        label="I have read every step, caution, answer and sentence of this version, and stand for it with my name",
        error_messages={"required": "Read it through first, then say so here."},
    )


class TakeBackForm(forms.Form):
    """Why a signature no longer holds."""

    reason = forms.CharField(
        label="Why it no longer holds",
        max_length=LONGEST_REASON,
        error_messages={"required": "Say why it no longer holds."},
    )


@require_GET
@anyone_in_the_shop
def to_read(request: ShopRequest) -> HttpResponse:
    """Every checklist, with how far this shop has read it."""
    return render(request, "checklists/to_read.html", {"lines": lists_to_read(request.shop)})


@require_GET
@anyone_in_the_shop
def read(request: ShopRequest, key: str) -> HttpResponse:
    """The version in use written out, or with ?version= another."""
    return _show(request, key, key_from(request.GET.get("version")))


@require_POST
@with_right(Right.SIGN_CHECKLISTS)
def sign_it(request: ShopRequest, key: str) -> HttpResponse:
    page = reading_page(key, None, request.shop, request.user)
    form = SignForm(request.POST)
    if not form.is_valid():
        return _show(request, key, None, REFUSED, sign_form=form)
    seen = form.cleaned_data
    try:
        if seen["number"] != page.checklist.number:
            raise StaleVersion(page.checklist)
        signature = sign(shop=request.shop, checklist=page.checklist, seen_wording=seen["wording"], by=request.user)
    except StaleVersion:
        said = "This checklist was changed after you opened it. Below it stands as it is now: read it, then sign."
        return _show(request, key, None, CONFLICT, conflict=said)
    words = "Signed. A second person reads and signs it too, for you changed it." if signature.as_author else "Signed."
    messages.success(request, words)
    return redirect("checklists:read", key)


@require_POST
@with_right(Right.SIGN_CHECKLISTS)
def take_back(request: ShopRequest, key: str, pk: int) -> HttpResponse:
    signature = get_object_or_404(ChecklistSignature, shop=request.shop, checklist__key=key, pk=pk)
    form = TakeBackForm(request.POST, auto_id=_ids_of(signature))
    if not form.is_valid():
        return _show(request, key, None, REFUSED, refused_form=form, taking_back=pk)
    try:
        take_signature_back(signature=signature, reason=form.cleaned_data["reason"], by=request.user)
    except ValidationError as refused:
        form.add_error(None, refused)
        return _show(request, key, None, REFUSED, refused_form=form, taking_back=pk)
    except StaleVersion:
        return _show(request, key, None, CONFLICT, conflict="That signature was taken back before.")
    messages.success(request, f"The signature of {signature.by} is taken back.")
    return redirect("checklists:read", key)


def _ids_of(signature: ChecklistSignature) -> str:
    """Ids of a form's fields, for the page has a form for each signature."""
    return f"signature-{signature.pk}-%s"


def _show(request: ShopRequest, key: str, number: int | None, status: int = 200, **refused: Any) -> HttpResponse:
    page = reading_page(key, number, request.shop, request.user)
    seen = {"number": page.checklist.number, "wording": page.checklist.wording}
    form, back = refused.get("refused_form"), refused.get("taking_back")
    context = {
        "page": page,
        "sign_form": SignForm(initial=seen),
        "signatures": [
            (shown, form if form and shown.one.pk == back else TakeBackForm(auto_id=_ids_of(shown.one)))
            for shown in page.signatures
        ],
        **refused,
    }
    return render(request, "checklists/read.html", context, status=status)
