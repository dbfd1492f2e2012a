"""Pages of the maker's manual beside a model's values: attach one, take one off, and the file itself."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from specs.models import SuspensionModel
from workshop.counter.saving import put_beside_fields
from workshop.manuals.files import MOST_PAGES, ManualFile, read_manual
from workshop.manuals.keeping import attach_page, pages_kept, take_page_off
from workshop.manuals.models import ManualPage
from workshop.office.specs_views import may_enter, posted
from workshop.staff.roles import Right
from workshop.tickets.attached import MOST_BYTES
from workshop.web.framing import shows_frames
from workshop.web.handing_out import hand_out
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_right
from workshop.web.uploads import file_name

_CONTENT_TYPES = {"pdf": "application/pdf", "jpg": "image/jpeg"}
_A_DAY = 24 * 3600


class _ManualField(forms.FileField):
    """One PDF or picture, looked at while it is validated."""

    def clean(self, data: Any, initial: Any = None) -> ManualFile | None:
        return read_manual(data, name=file_name(data)) if data else super().clean(data, initial)


class ManualForm(forms.Form):
    """A page of a manual, and what it is of."""

    file = _ManualField(
        label="Page of the manual",
        widget=forms.ClearableFileInput(attrs={"accept": "application/pdf,image/jpeg,image/png,image/webp"}),
        help_text=f"A picture, or a PDF of up to {MOST_PAGES} pages; at most {MOST_BYTES // 1024 // 1024} MB.",
        error_messages={"required": "Choose a picture or a PDF."},
    )
    document = forms.CharField(
        label="Manual", max_length=160, help_text="Written as the values’ source is, so that each finds its page."
    )
    revision = forms.CharField(label="Revision", max_length=40, required=False)
    page = forms.CharField(label="Page", max_length=40, required=False)


@shows_frames
@require_http_methods(["GET", "HEAD", "POST"])
@with_right(Right.ENTER_SPECS)
def manual(request: ShopRequest, pk: int) -> HttpResponse:
    """The pages of a model, and attaching one. A file has to be chosen again where something is refused."""
    model = get_object_or_404(SuspensionModel, pk=pk)
    form = ManualForm(posted(request), request.FILES if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            attach_page(shop=request.shop, model=model, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "The page is attached. It stands beside the values when they are checked.")
            return redirect("office:specs_manual", pk)
    context = {
        "form": form, "model": model, "manual": pages_kept(request.shop, model), "may_enter": may_enter(request.user),
    }  # fmt: skip
    return render(request, "office/specs/manual.html", context, status=422 if form.errors else 200)


@require_POST
@with_right(Right.ENTER_SPECS)
def take_off(request: ShopRequest, pk: int) -> HttpResponse:
    page = get_object_or_404(ManualPage, pk=pk, shop=request.shop)
    take_page_off(page=page)
    messages.success(request, f"{page} is removed. The values keep their source.")
    return redirect("office:specs_manual", page.model_id)


@require_GET
@anyone_in_the_shop
def file(request: ShopRequest, pk: int) -> HttpResponse:
    """The picture, or the PDF for the browser's own viewer; it is somebody else's, so nothing in it may load or run."""
    page = get_object_or_404(ManualPage, pk=pk, shop=request.shop)
    called = f"manual-{page.pk}.{page.kind}"
    response = hand_out(page.file.name, filename=called, content_type=_CONTENT_TYPES[page.kind])
    response["X-Frame-Options"] = "SAMEORIGIN"
    if response.status_code == HTTPStatus.OK:
        response["Cache-Control"] = f"private, max-age={_A_DAY}"
        response["Content-Security-Policy"] = "default-src 'none'; frame-ancestors 'self'"
    return response
